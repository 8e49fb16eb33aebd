#include "page/html.h"

#include <fmt/format.h>

#include "page/assets.h"
#include "page/tables.h"
#include "report/advice.h"
#include "report/markup.h"
#include "report/parts.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell::internal {

namespace {

/// A sentence's first letter, its last newline.
std::string sentence(std::string text) {
    while (!text.empty() && text.back() == '\n') text.pop_back();
    if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
    return text;
}
/// JSON inside a script element: no "<" may stand there, for "</script>" and "<!--" end or change it.
std::string script_safe(const std::string& json) {
    std::string out;
    out.reserve(json.size());
    for (const char c : json)
        if (c == '<')
            out += "\\u003c";
        else
            out += c;
    return out;
}

/// A section with its heading; contents name them all.
class Sections {
  public:
    void open(const char* id, const char* heading) {
        if (open_) out += "</section>\n";
        open_ = true;
        contents += fmt::format("<li><a href=\"#{}\">{}</a></li>", id, heading);
        out += fmt::format(
            "<section id=\"{0}\" aria-labelledby=\"{0}-heading\"><h2 id=\"{0}-heading\">{1}</h2>\n", id,
            heading);
    }
    void add(const std::string& html) { out += html; }
    /// A plot with its caption and, folded, its numbers; the script fills all three. `id` of the canvas or
    /// drawing is id-plot.
    void plot(const std::string& id, bool canvas = true, const char* extra = "") {
        out += fmt::format(
            "<figure id=\"{0}\">{2}<div class=\"plot {3}\">{1}</div><figcaption></figcaption><details "
            "class=\"numbers\"><summary>Numbers of this plot</summary><div class=\"scroll\" tabindex=\"0\" "
            "role=\"region\" aria-label=\"Numbers of the plot, table\"></div></details></figure>\n",
            id, canvas ? fmt::format("<canvas id=\"{}-plot\" role=\"img\"></canvas>", id) : "", extra,
            canvas ? "chart" : "figure");
    }
    std::string finish() {
        if (open_) out += "</section>\n";
        open_ = false;
        return out;
    }
    std::string contents, out;

  private:
    bool open_ = false;
};

std::string verdict_banner(const CheckResult& r) {
    const char* mark = r.verdict == Verdict::pass   ? "&#10003;"
                       : r.verdict == Verdict::fail ? "&#10007;"
                                                    : "?";
    const char* word = r.verdict == Verdict::pass   ? "Passes the screening"
                       : r.verdict == Verdict::fail ? "Fails the screening"
                                                    : "No verdict";
    return fmt::format(
        "<p class=\"verdict {}\"><span class=\"sign\" aria-hidden=\"true\">{}</span> <strong>{}</strong> "
        "<span>{}, "
        "{}</span></p>\n",
        verdict_name(r.verdict), mark, word, counted(r.positions, "position"),
        counted(static_cast<std::int64_t>(r.points.size()), "operating point"));
}

/// The position drawn: the one that swings most in the worst mode, the first of those that swing alike.
int drawn_position(const PageData& data) {
    int out = 1;
    double most = 0;
    if (data.shapes.empty()) return out;
    constexpr double alike = 1e-6;
    for (const Phasor& p : data.shapes.front().positions)
        if (p.energy_share > most * (1 + alike)) {
            most = p.energy_share;
            out = p.position;
        }
    return out;
}

void add_network(Sections& page, const Case& input, const PageData& data) {
    const CheckResult& r = data.result();
    page.open("network", "The network");
    if (!data.network) return;
    const OperatingPoint& point = r.points[data.drawn_point].point;
    const int position = drawn_position(data);
    ShownEnergy shown;
    const std::string one = position_drawing(input, point, position, data.energy, &shown);
    const std::string all = shared_drawing(input, point, data.energy, &shown);
    const auto& degc = input.positions[static_cast<size_t>(position - 1)].junction_temperature_degc;
    page.add(fmt::format("<p>Position {} of {}{}, with the values at {}.{}</p>\n", position, input.n(),
                         degc ? ", its junction at " + engineering(*degc, Dimension::temperature) : "",
                         escaped(place(point)),
                         data.energy.empty() ? ""
                                             : " Heavy symbols hold nine tenths of the worst mode's energy: "
                                               "this is the loop that rings. " +
                                                   escaped(beside_drawings(input, data.energy, shown))));
    const auto scrolled = [&](const std::string& drawing, const char* label) {
        page.add(fmt::format(
            "<div class=\"scroll drawing\" tabindex=\"0\" role=\"region\" aria-label=\"{}\">{}</div>\n",
            label, drawing));
    };
    scrolled(one, "Drawing of one position");
    scrolled(all, "Drawing of what the positions share");
    page.add(loops(*data.network) + differences(*data.network));
    page.add(
        "<details class=\"numbers\" id=\"elements\"><summary>Every element, and what it joins</summary><div "
        "class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Elements, table\"></div></details>\n");
}

std::string warnings(const CheckResult& r) {
    if (r.warnings.empty()) return "<p>None.</p>\n";
    std::string out = "<ul class=\"warnings\">";
    for (const Warning& w : r.warnings)
        out += fmt::format("<li><span class=\"key\">{}</span>: {}</li>\n", escaped(w.key), escaped(w.text));
    return out + "</ul>\n";
}

const char* const sign_off =
    R"(<table class="signoff"><caption>Sign-off</caption><thead><tr><th scope="col">Role</th><th
scope="col">Name</th><th scope="col">Date</th><th scope="col">Signature</th></tr></thead><tbody>
<tr><th scope="row">Layout</th><td></td><td></td><td></td></tr>
<tr><th scope="row">Gate drive</th><td></td><td></td><td></td></tr>
<tr><th scope="row">Review</th><td></td><td></td><td></td></tr>
<tr><th scope="row">Measured at the worst point</th><td></td><td></td><td></td></tr>
</tbody></table>
<p class="lines">Remarks and conditions</p><div class="line"></div><div class="line"></div><div class="line"></div>
)";

const char* const words =
    R"(<p class="words"><strong>Position</strong>: one of the paralleled devices with what belongs to it alone: gate and Kelvin
path, leads, snubber. <strong>Differential</strong> modes swing the positions against each other: their current runs out of one
device's gate and source into another's, and none of it through the shared driver or power loop. <strong>Common</strong> modes move
all positions alike, through driver and power loop. <strong>Damping ratio</strong>: at 0.1 an oscillation loses about half of its
amplitude in one period, at 0 it rings for ever, below 0 it grows by itself. <strong>Margin</strong>: the damping ratio less what is
asked; of the gain, how many times as large all gains may be before anything grows.</p>
)";

void add_verdict(Sections& page, const CheckResult& r) {
    page.open("verdict", "Verdict");
    page.add(verdict_banner(r));
    page.add(fmt::format("<p><strong>Required:</strong> {}.</p>\n", escaped(requirement_line(r.require))));
    if (!r.undecided_reason.empty())
        page.add(fmt::format("<p><strong>No verdict:</strong> {}.</p>\n", escaped(r.undecided_reason)));
    page.add(worst_table(r) + words);
    if (!r.growing.empty()) page.add("<p>" + escaped(sentence(growing_line(r))) + ".</p>\n");
    if (const std::string growth = gain_margin_line(r) + passing_lines(r) + edge_lines(r); !growth.empty())
        page.add("<pre class=\"plain\">" + escaped(growth) + "</pre>\n");
}

void add_advice(Sections& page, const CheckResult& r) {
    page.open("to-do", "What to do");
    std::string what = sentence(advice_words(advice(r)));
    if (!what.empty()) what += ".";
    page.add("<p class=\"advice\">" + escaped(what) + "</p>\n" + sizing_table(r));
}

const char* const no_resistor = "<p>No gate resistor was sought.</p>\n";

void add_roots(Sections& page, const PageData& data) {
    page.open("roots", "How the modes move with the gate resistance");
    if (data.sweeps.empty()) {
        page.add(no_resistor);
        return;
    }
    page.plot("roots-figure", true,
              "<div class=\"controls\"><fieldset id=\"roots-edge\"><legend>Edge</legend></fieldset><div "
              "class=\"slider\"><label for=\"roots-ohm\">Gate resistor</label><input type=\"range\" "
              "id=\"roots-ohm\" "
              "min=\"0\" max=\"1\" step=\"1\" value=\"0\"><output id=\"roots-value\" "
              "for=\"roots-ohm\"></output></div><p id=\"roots-verdict\" aria-live=\"polite\"></p></div>");
}

void add_plane(Sections& page) {
    page.open("plane", "Damping over voltage and current");
    page.plot("plane-figure", true,
              "<div class=\"controls\"><fieldset id=\"plane-edge\"><legend>Edge</legend></fieldset><fieldset "
              "id=\"plane-kind\"><legend>Modes</legend></fieldset></div><ul class=\"classes\" "
              "id=\"plane-classes\"></ul>");
}

void add_ring(Sections& page, const Ring& ring) {
    page.open("ring", "The ring after a disturbed gate");
    if (ring.not_shown.empty())
        page.plot("ring-figure");
    else
        page.add("<p>Not shown: " + escaped(ring.not_shown) + ".</p>\n");
}

void add_plots(Sections& page, const PageData& data) {
    page.open("path", "Damping along the switching path");
    page.plot("path-figure");
    page.open("resistance", "Damping against the gate resistance");
    for (const GateSweep& sweep : data.sweeps) page.plot(std::string("resistance-") + edge_name(sweep.edge));
    if (data.sweeps.empty()) page.add(no_resistor);
    add_roots(page, data);
    add_plane(page);
    page.open("shape", "The shape of the worst modes");
    page.add("<div class=\"pair\">");
    for (size_t k = 0; k < data.shapes.size(); ++k) page.plot(fmt::format("shape-{}", k), false);
    page.add("</div>");
    if (data.shapes.empty()) page.add("<p>No mode oscillates in the band.</p>\n");
    page.open("beads", "Ferrite beads");
    for (size_t k = 0; k < data.beads.size(); ++k) page.plot(fmt::format("bead-{}", k));
    if (data.beads.empty()) page.add("<p>No bead is fitted.</p>\n");
    add_ring(page, data.ring);
}

/// Tables that the script fills.
void add_tables(Sections& page, const PageData& data) {
    const auto filled = [&](const char* id, const char* heading) {
        page.open(id, heading);
        page.add(fmt::format("<div class=\"filled\" id=\"{}-tables\"></div>\n", id));
    };
    if (data.choice) filled("choose", "Beads and gate resistors compared");
    if (data.budget) filled("budget", "Layout budget");
    if (!data.explanation.modes.empty()) filled("explain", "Element by element");
    if (data.spread) filled("spread", "As parts and layout vary");
    page.open("devices", "Device values at each point");
    page.add("<p>What the network was built with; on paper, the table is in the last pages.</p>\n");
    page.add(
        "<details class=\"numbers\" id=\"device-values\"><summary>All points</summary><div class=\"scroll\" "
        "tabindex=\"0\" role=\"region\" aria-label=\"Device values, table\"></div></details>\n");
}

void add_record(Sections& page, const PageData& data) {
    page.open("record", "Record and sign-off");
    page.add(fmt::format(
        "<dl><dt>Case</dt><dd>{}</dd><dt>Case hash (FNV-1a)</dt><dd "
        "class=\"key\">{}</dd><dt>Made</dt><dd>{}</dd><dt>By</dt><dd>ringquell "
        "{}</dd></dl>\n<p>The page holds the case and its numbers: <code>ringquell report --read</code> of "
        "this file says whether the case "
        "has changed since.</p>\n",
        escaped(data.file), escaped(data.hash), escaped(data.made), version));
    page.add(sign_off);
}

/// Up to where the sections begin.
std::string head(const CheckResult& r, const std::string& title) {
    std::string out = fmt::format(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" "
        "content=\"width=device-width, initial-scale=1\">\n<meta http-equiv=\"Content-Security-Policy\" "
        "content=\"default-src "
        "'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:\">\n<meta "
        "name=\"generator\" "
        "content=\"ringquell {}\">\n<title>{}: {}</title>\n<style>\n",
        version,
        r.verdict == Verdict::pass   ? "Passes"
        : r.verdict == Verdict::fail ? "Fails"
                                     : "No verdict",
        escaped(title));
    out += page_style;
    out += fmt::format(
        "</style>\n</head>\n<body>\n<a class=\"skip\" href=\"#verdict\">To the verdict</a>\n<header><p "
        "class=\"kind\">Parallel-oscillation screening</p><h1>{}</h1></header>\n<main>\n",
        escaped(title));
    out +=
        "<noscript><p class=\"advice\">The plots and their tables need scripts, which are switched off here. "
        "The verdict does "
        "not.</p></noscript>\n";
    return out;
}

/// The numbers, and what draws them.
std::string scripts(const PageData& data) {
    std::string out = fmt::format("<script type=\"application/json\" id=\"{}\">{}</script>\n", page_data_id,
                                  script_safe(page_value(data).dump()));
    for (const std::string_view script : {chart_library, page_script, page_plots, page_plane, page_charts}) {
        out += "<script>";
        out += script;
        out += "</script>\n";
    }
    return out;
}

}  // namespace

std::string page_html(const Case& input, const PageData& data) {
    const CheckResult& r = data.result();
    Sections page;
    add_verdict(page, r);
    add_advice(page, r);
    add_network(page, input, data);
    add_plots(page, data);
    add_tables(page, data);
    page.open("warnings", "Warnings");
    page.add(warnings(r));
    if (!r.assumed.empty()) page.add("<p id=\"assumed\">" + escaped(sentence(assumed_line(r))) + "</p>\n");
    page.open("cautions", "Cautions");
    page.add(cautions_of_page);
    add_record(page, data);
    std::string body = page.finish();
    body +=
        "<section id=\"appendix\" aria-labelledby=\"appendix-heading\" hidden><h2 "
        "id=\"appendix-heading\">The plots in "
        "numbers</h2></section>\n";
    // The contents stand after verdict and advice: those come first.
    const size_t after = body.find("<section id=\"network\"");
    return head(r, r.title.empty() ? data.file : r.title) + body.substr(0, after) +
           "<nav aria-label=\"Contents\"><ol>" + page.contents + "</ol></nav>\n" + body.substr(after) +
           "</main>\n<footer><p>ringquell " + version + ". A screening, not a measurement.</p></footer>\n" +
           scripts(data) + "</body>\n</html>\n";
}

}  // namespace ringquell::internal
