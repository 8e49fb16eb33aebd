#include "page/frame.h"

#include <fmt/format.h>

#include "page/assets.h"
#include "report/markup.h"
#include "ringquell/version.h"

namespace ringquell::internal {

void Sections::open(const char* id, const char* heading) {
    if (open_) out_ += "</section>\n";
    open_ = true;
    contents += fmt::format("<li><a href=\"#{}\">{}</a></li>", id, heading);
    out_ += fmt::format(
        "<section id=\"{0}\" aria-labelledby=\"{0}-heading\"><h2 id=\"{0}-heading\">{1}</h2>\n", id, heading);
}

void Sections::plot(const std::string& id, bool canvas, const char* extra) {
    out_ += fmt::format(
        "<figure id=\"{0}\">{2}<div class=\"plot {3}\">{1}</div><figcaption></figcaption><details "
        "class=\"numbers\"><summary>Numbers of this plot</summary><div class=\"scroll\" tabindex=\"0\" "
        "role=\"region\" aria-label=\"Numbers of the plot, table\"></div></details></figure>\n",
        id, canvas ? fmt::format("<canvas id=\"{}-plot\" role=\"img\"></canvas>", id) : "", extra,
        canvas ? "chart" : "figure");
}

std::string Sections::finish() {
    if (open_) out_ += "</section>\n";
    open_ = false;
    return out_;
}

const char* verdict_title(Verdict verdict) {
    return verdict == Verdict::pass ? "Passes" : verdict == Verdict::fail ? "Fails" : "No verdict";
}

std::string verdict_banner(Verdict verdict, const std::string& beside) {
    const char* mark = verdict == Verdict::pass ? "&#10003;" : verdict == Verdict::fail ? "&#10007;" : "?";
    return fmt::format(
        "<p class=\"verdict {}\"><span class=\"sign\" aria-hidden=\"true\">{}</span> <strong>{}{}</strong> "
        "<span>{}</span></p>\n",
        verdict_name(verdict), mark, verdict_title(verdict),
        verdict == Verdict::undecided ? "" : " the screening", beside);
}

std::string sign_off(const std::vector<const char*>& roles) {
    std::string out =
        R"(<table class="signoff"><caption>Sign-off</caption><thead><tr><th scope="col">Role</th><th
scope="col">Name</th><th scope="col">Date</th><th scope="col">Signature</th></tr></thead><tbody>
)";
    for (const char* role : roles)
        out += fmt::format("<tr><th scope=\"row\">{}</th><td></td><td></td><td></td></tr>\n", role);
    return out + R"(</tbody></table>
<p class="lines">Remarks and conditions</p><div class="line"></div><div class="line"></div><div class="line"></div>
)";
}

const char* const mode_words =
    R"(<p class="words"><strong>Position</strong>: one of the paralleled devices with what belongs to it alone: gate and Kelvin
path, leads, snubber. <strong>Differential</strong> modes swing the positions against each other: their current runs out of one
device's gate and source into another's, and none of it through the shared driver or power loop. <strong>Common</strong> modes move
all positions alike, through driver and power loop. <strong>Damping ratio</strong>: at 0.1 an oscillation loses about half of its
amplitude in one period, at 0 it rings for ever, below 0 it grows by itself. <strong>Margin</strong>: the damping ratio less what is
asked; of the gain, how many times as large all gains may be before anything grows.</p>
)";

namespace {

/// No "<" may stand inside a script element, for "</script>" and "<!--" end or change it.
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

/// Up to where the sections begin.
std::string head(const PageFrame& frame) {
    const std::string title = escaped(frame.title);
    std::string out = fmt::format(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" "
        "content=\"width=device-width, initial-scale=1\">\n<meta http-equiv=\"Content-Security-Policy\" "
        "content=\"default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src "
        "data:\">\n<meta name=\"generator\" content=\"ringquell {}\">\n<title>{}: {}</title>\n<style>\n",
        version, frame.word, title);
    out += page_style;
    out += fmt::format(
        "</style>\n</head>\n<body>\n<a class=\"skip\" href=\"#verdict\">To the verdict</a>\n<header><p "
        "class=\"kind\">{}</p><h1>{}</h1></header>\n<main>\n",
        frame.kind, title);
    return out +
           "<noscript><p class=\"advice\">The plots and their tables need scripts, which are switched off "
           "here. "
           "The verdict does not.</p></noscript>\n";
}

}  // namespace

std::string framed_page(const PageFrame& frame, const std::string& sections,
                        const std::vector<std::string_view>& scripts) {
    std::string out = head(frame) + sections;
    out += fmt::format(
        "<section id=\"appendix\" aria-labelledby=\"appendix-heading\" hidden><h2 "
        "id=\"appendix-heading\">The "
        "plots in numbers</h2></section>\n</main>\n<footer><p>ringquell {}. A screening, not a "
        "measurement.</p></footer>\n<script type=\"application/json\" id=\"{}\">{}</script>\n<script>",
        version, frame.data_id, script_safe(frame.json));
    out += chart_library;
    out += "</script>\n";
    for (const std::string_view script : scripts) {
        out += "<script>";
        out += script;
        out += "</script>\n";
    }
    return out + "</body>\n</html>\n";
}

}  // namespace ringquell::internal
