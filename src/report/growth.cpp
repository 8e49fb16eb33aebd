// The stages of an edge in words and as JSON: how each is judged, what grows in it, what the whole edge may
// show.
#include <fmt/format.h>

#include <cmath>
#include <numbers>

#include "report/parts.h"
#include "report/values.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

namespace {

constexpr double worth_a_word = 1.01;  // factors; less is less than the estimate knows

std::string times(double factor) {
    return factor < 1e4 ? fmt::format("{:.3g} times", factor)
                        : fmt::format("more than 10^{:.0f} times", std::floor(std::log10(factor)));
}

std::string bare(double factor) {
    return factor < 1e4 ? fmt::format("{:.2g}", factor)
                        : fmt::format("10^{:.0f}", std::floor(std::log10(factor)));
}

std::string with_range(const Growth& g) {
    return fmt::format("{} ({} to {})", times(g.factor()), bare(g.least()), bare(g.most()));
}

std::string time_words(const Stage& s) {
    if (!s.time_s) return "dwell not known";
    return fmt::format("{} dwell {}", s.time_estimated ? "estimated" : "given",
                       engineering(*s.time_s, Dimension::time, 2));
}

/// A stage that would grow if the edge stood still in it.
std::string held_line(const CheckResult& r, const Stage& s) {
    const Mode& m = s.least->mode;
    return fmt::format(
        "  \"{}\": {} at {} if held (at \"{}\"), {}; {}, growth {}\n", s.name, damping(m.damping_ratio()),
        engineering(m.natural_frequency_hz(), Dimension::frequency, 3), r.points[s.least->point].point.name,
        pace(m), time_words(s), s.growth ? with_range(*s.growth) : "not known: " + s.why);
}

std::string edge_line(const CheckResult& r, Edge edge, const EdgeGrowth& g) {
    std::string parts;
    for (const Stage& s : r.passages.stages)
        if (s.edge == edge && s.variant == g.variant && s.growth && s.growth->factor() >= worth_a_word)
            parts += fmt::format("{}\"{}\" {:.3g} within {}", parts.empty() ? "" : ", ", s.name,
                                 s.growth->factor(), engineering(*s.time_s, Dimension::time, 2));
    return fmt::format("  {}: {}{}: {}\n", edge_word(edge), times(g.growth.factor()),
                       parts.empty() ? "" : " (" + parts + ")", grade_words(*g.grade));
}

bool any_graded(const Passages& p) {
    return std::any_of(p.edges.begin(), p.edges.end(),
                       [](const auto& e) { return e.second.grade.has_value(); });
}

}  // namespace

std::string passage_line(const Passage& p) {
    std::string out = fmt::format("  passage of {}{}{}: ", edge_word(p.edge), p.variant,
                                  p.soft ? " with the soft ramp" : "");
    if (!p.growth) return out + "growth not known, which fails\n";
    out += fmt::format("{}, {:.3g} allowed: {}", with_range(*p.growth), p.limit,
                       p.passes() ? "passes" : "fails");
    return out + (p.integration_decides()
                      ? "; the limit lies within the range, so the integration decides (until there "
                        "is one it fails)\n"
                      : "\n");
}

std::string pace(const Mode& m) {
    const double rate = std::abs(m.eigenvalue.real());
    if (rate <= 1e-12 * std::abs(m.eigenvalue)) return "neither falls nor grows";
    const bool grows = m.eigenvalue.real() > 0;
    const double time_s = (grows ? std::log(2.0) : 1.0) / rate;
    const std::string time = engineering(time_s, Dimension::time, 2);
    const char* word = grows ? "doubles" : "falls to 1/e";
    if (!m.oscillates()) return fmt::format("{} in {}", word, time);
    const double cycles = time_s * m.ringing_frequency_hz();
    return fmt::format("{} in {} ({} cycles)", word, time,
                       cycles < 10 ? fmt::format("{:.2g}", cycles) : fmt::format("{:.0f}", cycles));
}

std::string passing_lines(const CheckResult& r) {
    std::string held;
    for (const Stage& s : r.passages.stages)
        if (!s.held && s.grows_if_held()) held += held_line(r, s);
    std::string out;
    const bool any_passing = !r.passages.passages.empty();
    if (any_passing)
        out += fmt::format(
            "Judged in passing, both dice of the cascodes saturated (common practice; a held gate, a slow "
            "drive or a short circuit stays there):\n{}",
            held.empty() ? "  nothing would grow if the edge stood still there\n" : held);
    for (const Passage& p : r.passages.passages)
        if (!held.empty()) out += passage_line(p);
    return out;
}

std::string edge_lines(const CheckResult& r) {
    if (!any_graded(r.passages)) {
        std::string out;
        for (const std::string& note : r.passages.notes)
            out += fmt::format("Growth over an edge is not known: {}.\n", note);
        return out;
    }
    std::string out = fmt::format(
        "Growth over a whole edge ({}; no part of the verdict; estimate, up to 1.5 times too small "
        "on the boards integrated)\n",
        r.drive_is_step ? "the drive taken as a step" : "with the drive's ramp");
    for (const auto& [edge, g] : r.passages.edges)
        if (g.grade) out += edge_line(r, edge, g);
    for (const std::string& note : r.passages.notes)
        out += fmt::format("  without what is not known: {}\n", note);
    return out;
}

void add_pace(Json& out, const Mode& m) {
    const double sigma = m.eigenvalue.real();
    out["decay_s"] = sigma < 0 ? Json(-1 / sigma) : Json();
    out["doubling_s"] = sigma > 0 ? Json(std::log(2.0) / sigma) : Json();
    out["cycles_to_a_tenth"] =
        sigma < 0 && m.oscillates() ? Json(std::log(10.0) / -sigma * m.ringing_frequency_hz()) : Json();
}

Json stages_value(const CheckResult& r) {
    Json out = Json::array();
    for (const Stage& s : r.passages.stages) {
        Json held = Json::object(), points = Json::array();
        if (s.least) {
            held = {{"point", r.points[s.least->point].point.name},
                    {"kind", kind_name(s.least->mode.kind)},
                    {"damping_ratio", s.least->mode.damping_ratio()},
                    {"natural_frequency_hz", s.least->mode.natural_frequency_hz()}};
            add_pace(held, s.least->mode);
        }
        for (const size_t i : s.points) points.push_back(r.points[i].point.name);
        Json stage{{"name", s.name},
                   {"judged", s.held ? "held" : "in passing"},
                   {"passes", s.passes},
                   {"held", held},
                   {"dwell_s", s.time_s ? Json(*s.time_s) : Json()},
                   {"dwell_estimated", s.time_estimated},
                   {"growth", s.growth ? Json(s.growth->factor()) : Json()},
                   {"growth_range", s.growth ? Json{s.growth->least(), s.growth->most()} : Json()},
                   {"family", s.family},
                   {"points", points}};
        if (!s.why.empty() && !s.growth) stage["why"] = s.why;
        out.push_back(std::move(stage));
    }
    return out;
}

Json passages_value(const std::vector<Passage>& passages) {
    Json out = Json::array();
    for (const Passage& p : passages)
        out.push_back({{"edge", edge_name(p.edge)},
                       {"soft_turn_off", p.soft},
                       {"stages", p.stages},
                       {"growth", p.growth ? Json(p.growth->factor()) : Json()},
                       {"growth_range", p.growth ? Json{p.growth->least(), p.growth->most()} : Json()},
                       {"limit", p.limit},
                       {"passes", p.passes()},
                       {"integration_decides", p.integration_decides()}});
    return out;
}

Json edge_growth_value(const CheckResult& r) {
    Json out = Json::object();
    for (const auto& [edge, g] : r.passages.edges)
        out[edge_name(edge)] = {{"growth", g.growth.factor()},
                                {"growth_range", {g.growth.least(), g.growth.most()}},
                                {"grade", g.grade ? Json(grade_name(*g.grade)) : Json()}};
    return out;
}

}  // namespace ringquell::internal
