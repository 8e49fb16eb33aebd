#include "page/html.h"

#include <fmt/format.h>

#include "page/assets.h"
#include "page/frame.h"
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

void add_verdict(Sections& page, const CheckResult& r) {
    page.open("verdict", "Verdict");
    page.add(verdict_banner(
        r.verdict, fmt::format("{}, {}", counted(r.positions, "position"),
                               counted(static_cast<std::int64_t>(r.points.size()), "operating point"))));
    page.add(fmt::format("<p><strong>Required:</strong> {}.</p>\n", escaped(requirement_line(r.require))));
    if (!r.undecided_reason.empty())
        page.add(fmt::format("<p><strong>No verdict:</strong> {}.</p>\n", escaped(r.undecided_reason)));
    page.add(worst_table(r) + mode_words);
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
    page.add(measured_table(data.result()));
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

void add_snubbers(Sections& page, const SnubberMap& map) {
    page.open("snubber", "Damping over the snubber");
    if (map.not_shown.empty())
        page.plot("snubber-figure", true, "<ul class=\"classes\" id=\"snubber-classes\"></ul>");
    else
        page.add("<p>Not shown: " + escaped(map.not_shown) + ".</p>\n");
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
    add_snubbers(page, data.snubbers);
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
    page.add(sign_off({"Layout", "Gate drive", "Review", "Measured at the worst point"}));
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
    const std::string body = page.finish();
    // The contents stand after verdict and advice: those come first.
    const size_t after = body.find("<section id=\"network\"");
    const PageFrame frame{verdict_title(r.verdict), "Parallel-oscillation screening",
                          r.title.empty() ? data.file : r.title, page_data_id, page_value(data).dump()};
    return framed_page(frame,
                       body.substr(0, after) + "<nav aria-label=\"Contents\"><ol>" + page.contents +
                           "</ol></nav>\n" + body.substr(after),
                       {script_basics, script_page, script_plots, script_map, script_plane, script_snubber,
                        script_charts, script_paper});
}

}  // namespace ringquell::internal
