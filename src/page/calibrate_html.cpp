#include "page/calibrate_html.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "page/assets.h"
#include "page/frame.h"
#include "report/calibrate_parts.h"
#include "report/markup.h"
#include "report/parts.h"
#include "ringquell/page.h"
#include "ringquell/version.h"

namespace ringquell::internal {

namespace {

/// Lines of text without their indentation.
std::vector<std::string> trimmed_lines(const std::string& text) {
    std::vector<std::string> out;
    for (size_t at = 0; at < text.size();) {
        const size_t end = std::min(text.find('\n', at), text.size());
        const size_t begin = text.find_first_not_of(' ', at);
        if (begin < end) out.push_back(text.substr(begin, end - begin));
        at = end + 1;
    }
    return out;
}

std::string capital(std::string text) {
    if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
    return text;
}

std::vector<std::string> capitals(std::vector<std::string> lines) {
    for (std::string& line : lines) line = capital(std::move(line));
    return lines;
}

std::string item_list(const std::vector<std::string>& items, size_t first = 0) {
    if (items.size() <= first) return "";
    std::string out = "<ul>\n";
    for (size_t k = first; k < items.size(); ++k) out += "<li>" + escaped(items[k]) + "</li>\n";
    return out + "</ul>\n";
}

/// A table whose first column heads its row; `cells` are HTML, columns with a leading "#" numbers.
std::string html_table(const char* caption, const std::vector<const char*>& columns,
                       const std::vector<std::vector<std::string>>& rows) {
    std::string out = fmt::format(
        "<div class=\"scroll\" tabindex=\"0\" role=\"region\" "
        "aria-label=\"{0}\"><table><caption>{0}</caption><thead><tr>",
        caption);
    const auto look = [&](size_t k) { return columns[k][0] == '#' ? " class=\"number\"" : ""; };
    for (size_t k = 0; k < columns.size(); ++k)
        out += fmt::format("<th scope=\"col\"{}>{}</th>", look(k), columns[k] + (columns[k][0] == '#'));
    out += "</tr></thead><tbody>\n";
    for (const std::vector<std::string>& row : rows) {
        out += "<tr><th scope=\"row\">" + row.front() + "</th>";
        for (size_t k = 1; k < row.size(); ++k) out += fmt::format("<td{}>{}</td>", look(k), row[k]);
        out += "</tr>\n";
    }
    return out + "</tbody></table></div>\n";
}

std::string key_html(const std::string& key) {
    return "<span class=\"key\">" + escaped(key) + "</span>";
}

std::string keys_html(const std::vector<std::string>& keys, size_t first = 0) {
    std::vector<std::string> out;
    for (size_t k = first; k < keys.size(); ++k) out.push_back(key_html(keys[k]));
    return fmt::format("{}", fmt::join(out, ", "));
}

const char* meaning(const Calibration& c, const CalibratedVerdict& verdict) {
    if (!c.explained())
        return "No mode of the case can be what was measured: not with its numbers within their tolerances, "
               "nor with any one of them moved beyond. Look for what the case lacks (an element, a probe's "
               "lead, a coupling), for another point or another pair of nodes than the record says, or for a "
               "slip in the record itself.";
    if (verdict.word == "EXPLAINED IN PART")
        return "What some records miss is more than three of their errors, whatever the numbers are within "
               "their tolerances. Look for an element that the case lacks before you go on from the values "
               "below.";
    if (!c.within_tolerances())
        return "The records are met, but only with numbers that lie out of their tolerances. A number is "
               "wrong, or the case lacks something: find out which before you go on from the values below.";
    return "With numbers within their tolerances the case shows what was measured. That does not prove that "
           "these numbers are the board's: others may do as well. How far each is known now is below.";
}

void add_verdict(Sections& page, const Calibration& c) {
    page.open("verdict", "Verdict");
    const CalibratedVerdict verdict = calibrated_verdict(c);
    const bool good = verdict.word == "EXPLAINED";
    const char* look = good ? "pass" : c.explained() ? "undecided" : "fail";
    const char* sign = good ? "&#10003;" : c.explained() ? "?" : "&#10007;";
    page.add(fmt::format(
        "<p class=\"verdict {}\"><span class=\"sign\" aria-hidden=\"true\">{}</span> <strong>{}</strong>: "
        "<span>{}; {}</span></p>\n<p class=\"advice\">{}</p>\n",
        look, sign, verdict.word, escaped(c.title.empty() ? "case" : c.title), escaped(verdict.what),
        meaning(c, verdict)));
    for (const std::string& line : trimmed_lines(c.explained() ? calibrate_strain(c) : ""))
        page.add("<p>" + escaped(line) + "</p>\n");
    page.add(
        "<p class=\"words\"><strong>Error</strong>: one standard error of a record as the fit counts it: "
        "what "
        "the "
        "record itself leaves open and what the case cannot say of it (<code>model_error</code>), in "
        "squares. A record "
        "fits where nothing is missed by more than three of them. <strong>As the case stands</strong>: with "
        "its numbers "
        "as they are. <strong>With what is settled</strong>: with the most likely numbers, after the "
        "records.</p>\n");
    page.add(mode_words);
}

void add_record(Sections& page, const CalibratedRecord& r, size_t k, size_t count) {
    const std::vector<std::string> lines = trimmed_lines(calibrate_record(r));
    // "name (where): what"
    const size_t open = r.record.name.size() + 2, close = lines.front().rfind("): ");
    const std::string told =
        capital(lines.front().substr(open, close - open)) + ": " + lines.front().substr(close + 3) + ".";
    page.add(fmt::format("<h3 id=\"record-{}\">{}{}</h3>\n<p>{}</p>\n", k,
                         count > 1 ? fmt::format("{}. ", k + 1) : "", escaped(r.record.name), escaped(told)));
    page.add(item_list(capitals(lines), 1));
    if (r.record.kind == BenchRecord::Kind::impedance) {
        page.plot(fmt::format("impedance-{}", k));
        return;
    }
    if (r.fit) {
        page.plot(fmt::format("wave-{}", k));
        if (r.fit->starts.size() > 1) page.plot(fmt::format("starts-{}", k));
    }
    page.plot(fmt::format("modes-{}", k));
}

void add_single_changes(Sections& page, const Calibration& c) {
    page.open("single", "One number moved alone");
    if (c.single_changes.empty()) {
        page.add(c.unknowns.empty()
                     ? std::string("<p>No number was moved: nothing in the case is near what "
                                   "was measured.</p>\n")
                     : fmt::format("<p>No number moved alone brings the records nearer; as the "
                                   "case stands {:.3g} errors are missed (rms).</p>\n",
                                   c.misfit_before));
        return;
    }
    page.add(fmt::format("<p>Nothing moved, {:.3g} errors are missed (rms). {}</p>\n", c.misfit_before,
                         escaped(trimmed_lines(single_verdict(c)).front())));
    std::vector<std::vector<std::string>> rows;
    for (const SingleChangeRow& row : c.single_changes) {
        std::string number = key_html(row.keys.front());
        if (row.keys.size() > 1) number += " or, in the same string, " + keys_html(row.keys, 1);
        if (!row.others.empty()) number += "; or alone " + keys_html(row.others);
        rows.push_back({std::to_string(rows.size() + 1), number,
                        fmt::format("{:.2f}{}", row.misfit, row.explains ? ", explains" : ""),
                        fmt::format("{:.2g}{}", row.tolerances, row.tolerance_given ? "" : " (typical)"),
                        escaped(single_value_words(row.from, row)), escaped(single_value_words(row.to, row)),
                        row.worst_damping ? damping(*row.worst_damping) : "-"});
    }
    page.add(html_table(
        "One number moved alone, the likeliest first",
        {"Row", "Number", "#Errors missed (rms)", "#Tolerances moved", "#From", "#To", "#Worst damping then"},
        rows));
    page.add(
        "<p class=\"words\">A number explains where nothing is missed by more than two errors. Typical: no "
        "tolerance of it is given. Worst damping: the least of the differential modes along the path. "
        "Numbers of one string carry the same current, so that the records cannot tell them apart.</p>\n");
}

struct Interval {
    double low = 0, high = 0;
    bool after = false;
};

/// Bars over one scale from −`reach` to +`reach` with a line at 0; what reaches out of it is cut off.
std::string interval_bars(const std::vector<Interval>& bars, double reach) {
    constexpr double half = 100, high = 9, step = 12;
    std::string out = fmt::format(
        "<svg class=\"bar two\" viewBox=\"-102 0 204 {}\" preserveAspectRatio=\"none\" "
        "aria-hidden=\"true\">",
        step * static_cast<double>(bars.size()) + 2);
    double y = 2;
    for (const Interval& bar : bars) {
        const double from = half * std::clamp(bar.low / reach, -1.0, 1.0),
                     to = half * std::clamp(bar.high / reach, -1.0, 1.0);
        out += fmt::format("<rect class=\"{}\" x=\"{:.2f}\" y=\"{}\" width=\"{:.2f}\" height=\"{}\"/>",
                           bar.after ? "more" : "open", from, y, std::max(to - from, 1.0), high);
        y += step;
    }
    return out + fmt::format("<path d=\"M0 0V{}\"/></svg>", y);
}

std::string known_rows(const std::vector<const CalibratedUnknown*>& rows, bool several_records) {
    const auto off = [](const CalibratedUnknown& u) { return (u.after - u.before) / u.before_error; };
    const auto width = [](const CalibratedUnknown& u) { return u.after_error / u.before_error; };
    double reach = 1.2;
    for (const CalibratedUnknown* u : rows) reach = std::max(reach, std::abs(off(*u)) + width(*u));
    std::string out = "<ul class=\"known\">\n";
    for (const CalibratedUnknown* u : rows) {
        std::vector<size_t> records;
        for (const size_t r : u->records) records.push_back(r + 1);
        out += fmt::format(
            "<li><span>{}{}<span class=\"told\">{} before, {} now: {:.0f} % is left{}</span></span> "
            "{}</li>\n",
            key_html(u->key), u->batch ? " (all together)" : "",
            escaped(unknown_words(*u, u->before, u->before_error)),
            escaped(unknown_words(*u, u->after, u->after_error)), 100 * u->narrowed,
            records.empty() || !several_records ? ""
                                                : fmt::format(", by record {}", fmt::join(records, ", ")),
            interval_bars({{-1, 1, false}, {off(*u) - width(*u), off(*u) + width(*u), true}}, reach));
    }
    return out + fmt::format(
                     "</ul>\n<p>Bars are plus and minus one standard deviation, hollow before, filled now. "
                     "One scale for all, in standard deviations of before, from -{0:.2g} to +{0:.2g}; the "
                     "line is the case's value.</p>\n",
                     reach);
}

void add_known(Sections& page, const Calibration& c) {
    page.open("known", "What is known before and after");
    if (!c.explained()) {
        page.add(fmt::format("<p>{}</p>\n", nothing_settled));
        return;
    }
    constexpr size_t most = 24;
    std::vector<const CalibratedUnknown*> rows = narrowed_unknowns(c);
    const size_t narrowed = rows.size();
    if (rows.size() > most) rows.resize(most);
    page.add(rows.empty() ? "<p>Every number is known hardly better than before.</p>\n"
                          : known_rows(rows, c.records.size() > 1));
    std::string rest;
    if (narrowed > rows.size())
        rest += fmt::format("{} more are known somewhat better. ", narrowed - rows.size());
    if (const size_t others = c.unknowns.size() - narrowed; others > 0 && !rows.empty())
        rest +=
            fmt::format("{} of {} numbers are known hardly better than before.", others, c.unknowns.size());
    if (!rest.empty()) page.add("<p>" + rest + "</p>\n");
    const std::vector<std::string> lines = trimmed_lines(calibrate_combinations(c));
    if (!lines.empty())
        page.add("<h3>Known in combination better than each alone</h3>\n" + item_list(lines, 1));
}

void add_worst(Sections& page, const Calibration& c) {
    page.open("worst", "The least differential damping");
    if (c.worst_point.empty()) {
        page.add("<p>No differential mode oscillates in the band along the path.</p>\n");
        return;
    }
    const auto passes = [](const std::optional<SpreadResult>& s) {
        return s ? fmt::format("{:.1f} % of {}",
                               100.0 * static_cast<double>(s->passed) / static_cast<double>(s->samples),
                               s->samples)
                 : std::string("-");
    };
    const auto row = [&](const char* when, double value, const Calibration::WorstKnown& known,
                         const std::optional<SpreadResult>& spread) {
        std::vector<std::string> out = {when, std::isfinite(value) ? damping(value) : "-",
                                        damping(known.low) + " to " + damping(known.high)};
        if (c.spread_before) out.push_back(passes(spread));
        return out;
    };
    page.add(fmt::format("<p>At &quot;{}&quot;, the worst point with what is settled. Asked: {}.</p>\n",
                         escaped(c.worst_point), damping(c.damping_asked)));
    std::vector<const char*> columns = {"", "#Least along the path", "#There, with 95 %"};
    columns.front() = "With";
    if (c.spread_before) columns.push_back("#Samples that pass");
    page.add(html_table("Least differential damping before and after", columns,
                        {row("the case as it stands", c.worst_before, c.known_before, c.spread_before),
                         row("what is settled", c.worst_after, c.known_after, c.spread_after)}));
}

void add_next(Sections& page, const Calibration& c) {
    const std::vector<std::string> lines = trimmed_lines(calibrate_next(c));
    if (lines.empty()) return;
    page.open("next", "What to measure next");
    const std::string heading = lines.front().substr(lines.front().find(": ") + 2);
    page.add("<p>" + escaped(capital(heading)) + ".</p>\n" + item_list(lines, 1));
}

void add_remarks(Sections& page, const Calibration& c) {
    page.open("remarks", "Remarks");
    std::vector<std::string> lines = c.remarks;
    for (std::string& line : lines) {
        // Whoever reads the page may not have the documents.
        if (const size_t at = line.find(" (docs/"); at != std::string::npos)
            line.erase(at, line.find(')', at) - at + 1);
        line = capital(line) + (line.ends_with('.') ? "" : ".");
    }
    page.add(item_list(lines));
    page.add(
        "<p>The errors of a measurement are more than noise: a probe's delay and loading, and capacitances "
        "that move while it rings, are in <code>model_error</code>.</p>\n");
}

}  // namespace

std::string calibrate_html(const Case& input, const Calibration& c, const std::string& made) {
    const Json data = calibrate_page_value(input, c, made);
    const auto text_of = [](const Json& value) { return value.get<std::string>(); };
    Sections page;
    add_verdict(page, c);
    page.open("records", "The records");
    for (size_t k = 0; k < c.records.size(); ++k) add_record(page, c.records[k], k, c.records.size());
    add_single_changes(page, c);
    add_known(page, c);
    if (c.explained()) {
        add_worst(page, c);
        add_next(page, c);
    }
    add_remarks(page, c);
    page.open("cautions", "Cautions");
    page.add(cautions_of_page);
    page.open("record", "Record and sign-off");
    const std::string bench =
        data["bench_file"].is_null()
            ? ""
            : "<dt>Bench file</dt><dd>" + escaped(text_of(data["bench_file"])) + "</dd>";
    page.add(fmt::format(
        "<dl>{}<dt>Case</dt><dd>{}</dd><dt>Case hash (FNV-1a)</dt><dd "
        "class=\"key\">{}</dd><dt>Made</dt><dd>{}"
        "</dd><dt>By</dt><dd>ringquell {}</dd></dl>\n<p>The page holds the case as it stands{} as text, and "
        "the numbers of every plot.</p>\n",
        bench, escaped(text_of(data["case"]["file"])), escaped(text_of(data["case"]["hash"])), escaped(made),
        version, c.explained() ? " and with what is settled" : ""));
    page.add(sign_off({"Measured by", "Gate drive", "Review"}));
    const std::string body = page.finish();
    // The contents stand after the verdict: it comes first.
    const size_t after = body.find("<section id=\"records\"");
    const PageFrame frame{capital(calibrated_verdict(c).word), "From the bench back into the case",
                          c.title.empty() ? text_of(data["case"]["file"]) : c.title, calibrate_data_id,
                          data.dump()};
    return framed_page(frame,
                       body.substr(0, after) + "<nav aria-label=\"Contents\"><ol>" + page.contents +
                           "</ol></nav>\n" + body.substr(after),
                       {script_basics, script_plots, script_calibrate, script_paper});
}

}  // namespace ringquell::internal
