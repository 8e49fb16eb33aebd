// Two cases side by side, in words and as JSON.
#include "ringquell/compare.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/compare_parts.h"
#include "report/parts.h"
#include "report/values.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

namespace {

std::string mode_text(const CheckResult& r, const std::optional<FoundMode>& m) {
    if (!m) return "none in the band";
    return fmt::format("{}, {}, {}, \"{}\"", damping(m->mode.damping_ratio()),
                       frequency(m->mode.natural_frequency_hz()), pace(m->mode),
                       r.points[m->point].point.name);
}

std::string gain_text(const CheckResult& r) {
    if (!r.gain_margin || !r.gain_margin->left_out.empty()) return "not sought";
    return r.gain_margin->onset ? fmt::format("{:.3g}", r.gain_margin->onset->factor) : "> 100";
}

std::string ohm_text(const std::optional<double>& ohm) {
    return ohm ? engineering(*ohm, Dimension::resistance, 4) : "none";
}

std::string input_lines(const Comparison& c) {
    size_t key = 0, a = 1, b = 1;
    for (const ComparedInput& i : c.inputs) {
        key = std::max(key, key_text(i, c).size());
        a = std::max(a, i.a.size());
        b = std::max(b, i.b.size());
    }
    std::string out;
    for (const ComparedInput& i : c.inputs)
        out += fmt::format("  {:<{}}  {:<{}}  {:<{}}  {}\n", key_text(i, c), key, i.a, a, i.b, b,
                           i.part ? signed_damping(*i.part) : "");
    return out;
}

}  // namespace

std::vector<ResultRow> internal::result_rows(const Comparison& c) {
    std::vector<ResultRow> out{
        {"verdict", verdict_name(c.a.verdict), verdict_name(c.b.verdict)},
        {"worst differential mode", mode_text(c.a, c.a.worst_differential),
         mode_text(c.b, c.b.worst_differential)},
        {"worst common mode", mode_text(c.a, c.a.worst_common), mode_text(c.b, c.b.worst_common)},
        {"gain margin", gain_text(c.a), gain_text(c.b)}};
    for (const Edge edge : {Edge::turn_on, Edge::turn_off}) {
        const auto a = c.a.gate_resistance.find(edge), b = c.b.gate_resistance.find(edge);
        if (a == c.a.gate_resistance.end() || b == c.b.gate_resistance.end()) continue;
        const EdgeSizing &x = a->second, &y = b->second;
        out.push_back({fmt::format("least gate resistor, {}", edge_word(edge)), ohm_text(x.minimum_ohm),
                       ohm_text(y.minimum_ohm)});
        out.push_back({fmt::format("preferred gate resistor, {}", edge_word(edge)), ohm_text(x.preferred_ohm),
                       ohm_text(y.preferred_ohm)});
    }
    std::erase_if(out, [](const ResultRow& r) { return r.a == r.b; });
    return out;
}

std::string internal::signed_damping(double x) {
    return fmt::format("{:+.4f}", std::abs(x) < 5e-5 ? 0.0 : x);
}

std::string internal::key_text(const ComparedInput& input, const Comparison& c) {
    return input.key + (input.positions.empty() ? "" : at_positions(input.positions, c.a.positions));
}

std::string internal::part_lines(const Comparison& c) {
    const char* kind = kind_name(c.kind);
    if (!c.parted)
        return fmt::format("The difference of the least {} damping is not parted: {}.\n", kind,
                           c.why_not_parted);
    std::string out = fmt::format(
        "Least {} damping: {} of A, which {}; {} of B, which {}; difference {}, of which each input's part "
        "stands beside it.\n",
        kind, signed_damping(*c.worst_a), pace(*c.least_a), signed_damping(*c.worst_b), pace(*c.least_b),
        signed_damping(*c.worst_b - *c.worst_a));
    constexpr double worth_a_word = 0.01;
    if (std::abs(c.change_of_kind) > worth_a_word * std::abs(*c.worst_b - *c.worst_a))
        out += fmt::format(
            "Of it {} is no input's: on the way a mode enters or leaves the band, or changes its kind.\n",
            signed_damping(c.change_of_kind));
    return out;
}

std::string compare_text(const Comparison& c, bool quiet) {
    const std::vector<ResultRow> results = result_rows(c);
    if (c.inputs.empty() && results.empty()) return "Nothing differs.\n";
    std::string out =
        fmt::format("A: {}{}: {}\nB: {}{}: {}\n", c.file_a, c.a.title.empty() ? "" : ", " + c.a.title,
                    verdict_name(c.a.verdict), c.file_b, c.b.title.empty() ? "" : ", " + c.b.title,
                    verdict_name(c.b.verdict));
    if (quiet) return out + part_lines(c);
    out += fmt::format("\nWhat differs in the input: A, B, part of the difference ({})\n",
                       counted(static_cast<std::int64_t>(c.inputs.size()), "input"));
    out += input_lines(c) + part_lines(c);
    out += results.empty() ? "\nNo result differs.\n" : "\nWhat differs in the result: A, B\n";
    for (const ResultRow& r : results) out += fmt::format("  {}: {}; {}\n", r.what, r.a, r.b);
    return out + "\n" + caution;
}

Json internal::compare_value(const Comparison& c) {
    Json inputs = Json::array();
    for (const ComparedInput& i : c.inputs)
        inputs.push_back(
            {{"key", i.key}, {"positions", i.positions}, {"a", i.a}, {"b", i.b}, {"part", or_null(i.part)}});
    const bool both = c.worst_a && c.worst_b;
    Json results = Json::array();
    for (const ResultRow& r : result_rows(c)) results.push_back({{"what", r.what}, {"a", r.a}, {"b", r.b}});
    Json out{{"ringquell", version},
             {"verb", "compare"},
             {"a", {{"file", c.file_a}, {"title", c.a.title}, {"verdict", verdict_name(c.a.verdict)}}},
             {"b", {{"file", c.file_b}, {"title", c.b.title}, {"verdict", verdict_name(c.b.verdict)}}},
             {"inputs", inputs},
             {"worst",
              {{"kind", kind_name(c.kind)},
               {"a", or_null(c.worst_a)},
               {"b", or_null(c.worst_b)},
               {"difference", both ? Json(*c.worst_b - *c.worst_a) : Json()},
               {"change_of_kind", c.parted ? Json(c.change_of_kind) : Json()}}},
             {"results", results}};
    if (!c.parted) out["why_not_parted"] = c.why_not_parted;
    out["caution"] = caution;
    return out;
}

std::string compare_json(const Comparison& c) {
    return printed(compare_value(c));
}

}  // namespace ringquell
