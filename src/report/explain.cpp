#include "ringquell/explain.h"

#include <fmt/format.h>

#include <cmath>

#include "report/parts.h"
#include "report/values.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

namespace {

/// A coupling is given by its coefficient or by its mutual inductance.
Dimension dimension(const ElementShare& s) {
    if (s.kind == ElementKind::mutual && !s.key.ends_with(".mutual")) return Dimension::number;
    return dimension_of(s.kind);
}

std::string value_text(const ElementShare& s, double value) {
    return engineering(value, dimension(s), 4);
}

std::string names(const ExplainedMode& m, const std::vector<size_t>& which, size_t most) {
    std::string out;
    for (size_t i = 0; i < which.size() && i < most; ++i)
        out += (i ? ", " : "") + m.elements[which[i]].share.key;
    return which.size() > most ? out + fmt::format(" and {} more", which.size() - most) : out;
}

std::string mode_text(const ExplainedMode& m) {
    const Mode& mode = m.found.mode;
    std::string out = fmt::format("Worst {} mode: damping ratio {:.4g} ({} {:.3g}), {} at \"{}\"\n",
                                  kind_name(mode.kind), mode.damping_ratio(),
                                  m.damping_needed > 0 ? "asked for:" : "must exceed", m.damping_needed,
                                  engineering(mode.natural_frequency_hz(), Dimension::frequency), m.point);
    constexpr size_t most = 10;
    out += fmt::format("  The loop: nine tenths of the energy are in {}.\n", names(m, m.loop, most));
    if (m.gain.empty())
        out += "  Nothing feeds it: it merely rings.\n";
    else
        out += fmt::format(
            "  {} by {}, which {} {:.3g} from the damping.\n",
            m.found.fed_by_gain() ? "Fed" : "It merely rings; it is fed a little", names(m, m.gain, 4),
            m.gain.size() > 1 ? "take" : "takes", -[&] {
                double sum = 0;
                for (size_t i : m.gain) sum += m.elements[i].share.damping_share;
                return sum;
            }());
    if (!m.helps.empty()) {
        out += "  What helps most, for a change of a tenth:";
        for (size_t k = 0; k < m.helps.size(); ++k) {
            const ElementShare& s = m.elements[m.helps[k]].share;
            out += fmt::format("{} {} {} (damping ratio +{:.2g})", k ? "," : "",
                               s.damping_slope > 0 ? "more" : "less", s.key, std::abs(0.1 * s.damping_slope));
        }
        out += ".\n";
    }
    out += fmt::format("  {:<42} {:>12} {:>8} {:>10} {:>12}  {}\n", "element", "now", "energy", "damping",
                       "per +10 %", "passes alone at");
    constexpr double tiny = 5e-4;
    int left_out = 0;
    for (const ExplainedElement& e : m.elements) {
        const ElementShare& s = e.share;
        const bool matters = std::abs(s.energy_share) >= tiny || std::abs(s.damping_share) >= tiny ||
                             std::abs(0.1 * s.damping_slope) >= tiny || e.passes_at;
        if (!matters) {
            ++left_out;
            continue;
        }
        out +=
            fmt::format("  {:<42} {:>12} {:>7.1f}% {:>+10.4f} {:>+12.4f}  {}\n", s.key,
                        value_text(s, s.value), 100 * s.energy_share, s.damping_share, 0.1 * s.damping_slope,
                        !e.sought     ? ""
                        : e.passes_at ? value_text(s, *e.passes_at)
                                      : "not alone");
    }
    out +=
        fmt::format("  {:<42} {:>12} {:>7.1f}% {:>+10.4f}\n", "sum", "", 100 * m.energy_sum, m.damping_sum);
    if (left_out > 0)
        out += fmt::format(
            "  ({} elements with less than 0.0005 in every column are left out; --json has them all.)\n",
            left_out);
    return out;
}

Json mode_json(const ExplainedMode& m) {
    Json elements = Json::array();
    for (const ExplainedElement& e : m.elements)
        elements.push_back({{"name", e.share.key},
                            {"value", e.share.value},
                            {"unit", std::string(unit_name(dimension(e.share)))},
                            {"energy_share", e.share.energy_share},
                            // Fed power over 2|λ|·W: these sum to −ζ.
                            {"power_share", -e.share.damping_share},
                            {"damping_per_10_percent", 0.1 * e.share.damping_slope},
                            {"passes_at", or_null(e.passes_at)},
                            {"can_vary", e.can_vary}});
    const Mode& mode = m.found.mode;
    return {{"mode",
             {{"point", m.point},
              {"kind", kind_name(mode.kind)},
              {"multiplicity", mode.multiplicity},
              {"real", mode.eigenvalue.real()},
              {"imag", mode.eigenvalue.imag()},
              {"natural_frequency_hz", mode.natural_frequency_hz()},
              {"damping_ratio", mode.damping_ratio()},
              {"damping_asked", m.damping_needed},
              {"fed_by_gain", m.found.fed_by_gain()}}},
            {"energy_sum", m.energy_sum},
            {"power_sum", -m.damping_sum},
            {"elements", elements}};
}

}  // namespace

std::string explain_text(const Explanation& explanation, bool quiet) {
    std::string out = check_text(explanation.result, true);
    if (explanation.modes.empty()) out += "No mode oscillates in the band: there is nothing to explain.\n";
    for (const ExplainedMode& m : explanation.modes) out += "\n" + mode_text(m);
    if (!quiet) {
        out +=
            "\nenergy: share of the mode's stored energy. damping: part of the damping ratio that the "
            "element gives (negative: feeds the mode).\n"
            "per +10 %: change of the damping ratio when the element grows by a tenth. passes alone at: the "
            "value of that number alone at which the whole case passes.\n\n";
        out += caution;
    }
    return out;
}

Json internal::explain_value(const Explanation& explanation) {
    Json out{{"ringquell", version},
             {"verb", "explain"},
             {"title", explanation.result.title},
             {"verdict", verdict_name(explanation.result.verdict)}};
    // The mode in question first: the one that misses its target most clearly.
    const ExplainedMode* main = nullptr;
    for (const ExplainedMode& m : explanation.modes)
        if (main == nullptr || m.found.mode.damping_ratio() - m.damping_needed <
                                   main->found.mode.damping_ratio() - main->damping_needed)
            main = &m;
    if (main != nullptr) out.update(mode_json(*main));
    out["modes"] = Json::array();
    for (const ExplainedMode& m : explanation.modes) out["modes"].push_back(mode_json(m));
    out["caution"] = caution;
    return out;
}

std::string explain_json(const Explanation& explanation) {
    return printed(explain_value(explanation));
}

}  // namespace ringquell
