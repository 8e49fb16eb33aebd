#include "page/compare_html.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <set>

#include "page/assets.h"
#include "page/data.h"
#include "page/frame.h"
#include "report/compare_parts.h"
#include "report/markup.h"
#include "report/parts.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"
#include "ringquell/version.h"
#include "ringquell/write_case.h"

namespace ringquell::internal {

namespace {

/// One of the two.
struct Side {
    const char* letter;
    const Case& input;
    const CheckResult& result;
    std::string file, hash, text;
};

Side side(const char* letter, const Case& input, const CheckResult& result) {
    std::string text = write_case(input);
    return {letter,          input,          result, std::filesystem::path(input.file).filename().string(),
            text_hash(text), std::move(text)};
}

std::string row(const std::string& head, const std::vector<std::string>& cells) {
    std::string out = "<tr><th scope=\"row\">" + head + "</th>";
    for (const std::string& cell : cells) out += "<td>" + cell + "</td>";
    return out + "</tr>\n";
}

std::string table(const char* caption, const std::vector<const char*>& columns, const std::string& rows) {
    std::string out = fmt::format(
        "<div class=\"scroll\" tabindex=\"0\" role=\"region\" "
        "aria-label=\"{0}\"><table><caption>{0}</caption><thead><tr>",
        caption);
    for (const char* column : columns) out += fmt::format("<th scope=\"col\">{}</th>", column);
    return out + "</tr></thead><tbody>\n" + rows + "</tbody></table></div>\n";
}

std::string key_html(const ComparedInput& input, const Comparison& c) {
    return "<span class=\"key\">" + escaped(key_text(input, c)) + "</span>";
}

/// Lines of text, each a paragraph.
std::string paragraphs(const std::string& lines) {
    std::string out;
    for (size_t at = 0; at < lines.size();) {
        const size_t end = std::min(lines.find('\n', at), lines.size());
        out += "<p>" + escaped(lines.substr(at, end - at)) + "</p>\n";
        at = end + 1;
    }
    return out;
}

void add_verdicts(Sections& page, const Side& a, const Side& b) {
    page.open("verdict", "Verdicts");
    for (const Side* s : {&a, &b})
        page.add(verdict_banner(s->result.verdict,
                                fmt::format("<strong>{}</strong>: {}{}{}", s->letter, escaped(s->file),
                                            s->result.title.empty() ? "" : ", ", escaped(s->result.title))));
    const std::string asked_a = requirement_line(a.result.require),
                      asked_b = requirement_line(b.result.require);
    page.add(
        asked_a == asked_b
            ? fmt::format("<p><strong>Required of both:</strong> {}.</p>\n", escaped(asked_a))
            : fmt::format("<p><strong>Required of A:</strong> {}.</p>\n<p><strong>Required of B:</strong> "
                          "{}.</p>\n",
                          escaped(asked_a), escaped(asked_b)));
    page.add(mode_words);
}

/// A bar from the middle, to the right what raises the damping; as wide as its share of the largest.
std::string bar(double part, double largest) {
    constexpr double half = 100, seen = 5e-5;  // what is not 0 in four decimals
    const double width = std::abs(part) >= seen ? half * std::abs(part) / largest : 0;
    return fmt::format(
        "<svg class=\"bar\" viewBox=\"-102 0 204 14\" preserveAspectRatio=\"none\" "
        "aria-hidden=\"true\"><rect "
        "class=\"{}\" x=\"{:.2f}\" y=\"2\" width=\"{:.2f}\" height=\"10\"/><path d=\"M0 0V14\"/></svg>",
        part < 0 ? "less" : "more", part < 0 ? -width : 0.0, width);
}

std::string bars(const Comparison& c) {
    double largest = std::abs(c.change_of_kind);
    for (const ComparedInput& i : c.inputs) largest = std::max(largest, std::abs(i.part.value_or(0)));
    std::string out = "<ul class=\"bars\">\n";
    const auto line = [&](const std::string& what, double part) {
        out += fmt::format("<li><span class=\"what\">{}</span> <span class=\"part\">{}</span> {}</li>\n",
                           what, signed_damping(part), bar(part, largest));
    };
    for (const ComparedInput& i : c.inputs)
        if (i.part) line(key_html(i, c), *i.part);
    constexpr double worth_a_bar = 0.01;
    if (std::abs(c.change_of_kind) > worth_a_bar * largest) line("no input's", c.change_of_kind);
    return out +
           "</ul>\n<p>From B's least damping less A's. A bar to the right raises it from A to B, a hollow "
           "one to "
           "the left lowers it; the longest is the largest part.</p>\n";
}

void add_inputs(Sections& page, const Comparison& c) {
    page.open("inputs", "What differs in the input");
    if (c.inputs.empty()) {
        page.add("<p>Nothing.</p>\n");
        return;
    }
    std::string rows;
    for (const ComparedInput& i : c.inputs)
        rows += row(key_html(i, c),
                    {escaped(i.a), escaped(i.b), i.part ? signed_damping(*i.part) : std::string("-")});
    page.add(table("Inputs that differ", {"Input", "A", "B", "Part of the difference"}, rows));
    page.open("parts", "Which input did it");
    page.add(paragraphs(part_lines(c)));
    if (c.parted) page.add(bars(c));
}

void add_results(Sections& page, const Comparison& c) {
    page.open("results", "What differs in the result");
    std::string rows;
    for (const ResultRow& r : result_rows(c)) rows += row(escaped(r.what), {escaped(r.a), escaped(r.b)});
    page.add(rows.empty() ? "<p>Nothing.</p>\n" : table("Results that differ", {"Result", "A", "B"}, rows));
}

std::set<Edge> edges_of(const CheckResult& r) {
    std::set<Edge> out;
    for (const PointResult& p : r.points) out.insert(p.point.edge);
    return out;
}

void add_curves(Sections& page, const Side& a, const Side& b) {
    page.open("path", "Damping along the switching path");
    std::set<Edge> edges = edges_of(a.result);
    edges.merge(edges_of(b.result));
    for (const Edge edge : edges) page.plot(std::string("path-") + edge_name(edge));
    if (edges.empty()) page.add("<p>Neither has a point.</p>\n");
}

void add_sides(Sections& page, const Side& a, const Side& b, const std::string& made) {
    page.open("record", "Record");
    std::string rows;
    for (const Side* s : {&a, &b})
        rows += row(s->letter, {escaped(s->file), "<span class=\"key\">" + s->hash + "</span>"});
    page.add(table("The two cases", {"Case", "File", "Hash (FNV-1a)"}, rows) +
             fmt::format("<p>Made {} by ringquell {}. The page holds both cases as text.</p>\n",
                         escaped(made), version));
}

Json side_value(const Side& s) {
    Json checked = thinned_check(s.result);
    for (Json& point : checked["points"]) point.erase("devices");
    return {{"file", s.file}, {"hash", s.hash}, {"text", s.text}, {"check", std::move(checked)}};
}

}  // namespace

std::string compare_html(const Case& a, const Case& b, const Comparison& compared, const std::string& made) {
    const Side first = side("A", a, compared.a), second = side("B", b, compared.b);
    Sections page;
    add_verdicts(page, first, second);
    // Cases that have little in common differ in hundreds of inputs: those come last.
    constexpr size_t many = 40;
    const bool long_list = compared.inputs.size() > many;
    if (!long_list) add_inputs(page, compared);
    add_results(page, compared);
    add_curves(page, first, second);
    if (long_list) add_inputs(page, compared);
    page.open("cautions", "Cautions");
    page.add(cautions_of_page);
    add_sides(page, first, second, made);
    Json data{{"ringquell", version}, {"comparison", 1}, {"made", made}};
    data["a"] = side_value(first);
    data["b"] = side_value(second);
    data["compare"] = compare_value(compared);
    shorten(data);
    const PageFrame frame{"A and B", "Two cases side by side", first.file + " and " + second.file,
                          compare_data_id, data.dump()};
    return framed_page(frame, page.finish(), {script_basics, script_plots, script_compare, script_paper});
}

}  // namespace ringquell::internal
