// The parts of a verdict in words, which several reports share.
#include "report/parts.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "ringquell/quantity.h"

namespace ringquell::internal {

const char* verdict_word(Verdict verdict) {
    return verdict == Verdict::pass ? "PASS" : verdict == Verdict::fail ? "FAIL" : "UNDECIDED";
}

std::string damping(double ratio) {
    return fmt::format("{:.3g}", std::abs(ratio) < 1e-12 ? 0.0 : ratio);
}

std::string frequency(double hz) {
    return engineering(hz, Dimension::frequency, 4);
}

std::string place(const OperatingPoint& p) {
    return fmt::format("\"{}\" ({}, {}, {}, complementary device {})", p.name, edge_word(p.edge),
                       engineering(p.vds_v, Dimension::voltage, 3),
                       engineering(p.current_a, Dimension::current, 3),
                       p.complementary == Complementary::conducting ? "conducting" : "blocking");
}

std::string requirement_line(const Requirement& r) {
    const std::string common = r.common_damping
                                   ? fmt::format("common modes at least {}", damping(*r.common_damping))
                                   : "common modes only reported";
    const std::string passive = r.passive_damping
                                    ? fmt::format(
                                          " (or {} above the gain's part in the power balance, where that is "
                                          "less)",
                                          damping(*r.passive_damping))
                                    : "";
    const std::string gain =
        r.gain_margin ? fmt::format(", nor with all gains {:.3g} times as large", *r.gain_margin) : "";
    return fmt::format(
        "damping ratio of differential modes at least {}{}, {}, {} to {}; nothing may grow at any "
        "frequency{}",
        damping(r.differential_damping), passive, common, frequency(r.band_low_hz), frequency(r.band_high_hz),
        gain);
}

namespace {
std::string change_words(const CureChange& c) {
    const std::string out = c.key + " " + (c.words.empty() ? c.to : c.words);
    return c.from.empty() ? out : fmt::format("{} (now {})", out, c.from);
}

}  // namespace

std::string changes_words(const std::vector<CureChange>& changes) {
    std::vector<std::string> out;
    out.reserve(changes.size());
    for (const CureChange& c : changes) out.push_back(change_words(c));
    return fmt::format("{}", fmt::join(out, ", "));
}

std::string cause_of(const FoundMode& m) {
    if (m.fed_by_gain())
        return fmt::format("Fed by the devices' gain, which takes {} from its damping.",
                           damping(-m.damping_by_gain));
    if (m.damping_by_gain < 0)
        return fmt::format("The loops' own ringing; the devices' gain takes only {} from its damping.",
                           damping(-m.damping_by_gain));
    return "The loops' own ringing; the devices' gain does not feed it.";
}

std::string bounded(const Window& w) {
    const auto side = [](Bound b, const std::string& point) {
        if (b == Bound::limit) return std::string("the range searched");
        const char* word = b == Bound::damping  ? "damping"
                           : b == Bound::band   ? "a mode at the band's edge"
                           : b == Bound::growth ? "growth"
                                                : "a mode's change of kind";
        return point.empty() ? std::string(word) : fmt::format("{} at \"{}\"", word, point);
    };
    return fmt::format("{:.6g} to {:.6g} ohm (below: {}; above: {})", w.low, w.high,
                       side(w.low_bound, w.low_point), side(w.high_bound, w.high_point));
}

std::string fitted(const EdgeSizing& s, int digits) {
    std::string least = engineering(s.fitted_lowest_ohm, Dimension::resistance, digits);
    if (s.fitted_lowest_ohm == s.fitted_highest_ohm) return least;
    return least + " to " + engineering(s.fitted_highest_ohm, Dimension::resistance, digits);
}

bool passage_passes(const CheckResult& r, Edge edge) {
    const auto& passages = r.passages.passages;
    return std::all_of(passages.begin(), passages.end(),
                       [&](const Passage& p) { return p.edge != edge || p.passes(); });
}

bool fitted_passes(const EdgeSizing& s) {
    for (const Window& w : s.acceptable.windows)
        if (s.fitted_lowest_ohm >= w.low && s.fitted_highest_ohm <= w.high) return true;
    return false;
}

const char* fitted_word(const CheckResult& r, Edge edge, const EdgeSizing& s) {
    if (!fitted_passes(s)) return "not acceptable";
    return passage_passes(r, edge) ? "acceptable"
                                   : "acceptable where held, but too much grows in its passage";
}

namespace {

/// `"turn_off current" from 60 A to 180 A`; a point of its own by its name.
std::string run_words(const OperatingPoint& first, const OperatingPoint& last) {
    const std::string stage = fmt::format("\"{}\"{}", first.stage, first.variant);
    const auto between = [&](double from, double to, Dimension d) {
        return fmt::format("{} from {} to {}", stage, engineering(from, d, 3), engineering(to, d, 3));
    };
    if (first.current_a != last.current_a)
        return between(first.current_a, last.current_a, Dimension::current);
    if (first.vds_v != last.vds_v) return between(first.vds_v, last.vds_v, Dimension::voltage);
    return fmt::format("\"{}\"", first.name);
}

/// Of which parts of the path: neighbouring points of one stage are one part.
std::string growing_parts(const CheckResult& result) {
    std::vector<bool> grows_at(result.points.size(), false);
    for (const FoundMode& g : result.growing) grows_at[g.point] = true;
    constexpr size_t most = 6;
    std::vector<std::string> parts;
    for (size_t i = 0; i < grows_at.size(); ++i) {
        if (!grows_at[i]) continue;
        const OperatingPoint& first = result.points[i].point;
        const auto goes_on = [&](size_t k) {
            const OperatingPoint& next = result.points[k].point;
            return grows_at[k] && next.stage == first.stage && next.variant == first.variant;
        };
        while (i + 1 < grows_at.size() && goes_on(i + 1)) ++i;
        parts.push_back(run_words(first, result.points[i].point));
    }
    std::string out;
    for (size_t k = 0; k < std::min(parts.size(), most); ++k) out += (k ? ", " : "") + parts[k];
    if (parts.size() > most) out += fmt::format(" and {} more parts", parts.size() - most);
    return out;
}

}  // namespace

std::string growing_line(const CheckResult& result) {
    if (result.growing.empty()) return {};
    const FoundMode* fastest = &result.growing.front();
    for (const FoundMode& g : result.growing)
        if (g.mode.eigenvalue.real() > fastest->mode.eigenvalue.real()) fastest = &g;
    return fmt::format(
        "Growing: over {}; the fastest doubles in {}, {} at \"{}\"{}\n", growing_parts(result),
        engineering(std::log(2.0) / fastest->mode.eigenvalue.real(), Dimension::time, 2),
        fastest->mode.oscillates() ? frequency(fastest->mode.natural_frequency_hz()) : "without oscillating,",
        result.points[fastest->point].point.name,
        in_band(fastest->mode, result.require) ? "" : " (outside the band)");
}

Dimension dimension_of(ElementKind kind) {
    switch (kind) {
        case ElementKind::resistance:
            return Dimension::resistance;
        case ElementKind::capacitance:
            return Dimension::capacitance;
        case ElementKind::conductance:
        case ElementKind::transconductance:
            return Dimension::conductance;
        case ElementKind::inductance:
        case ElementKind::mutual:
            return Dimension::inductance;
    }
    return Dimension::number;
}

}  // namespace ringquell::internal
