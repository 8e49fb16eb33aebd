// What to do, in one sentence: a remedy that fits the mode in the way.
#include <fmt/format.h>

#include <map>

#include "report/parts.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

namespace {

using Edges = std::vector<std::string>;

/// The least damped differential mode where no device conducts: nothing feeds it, and no gate resistor
/// reaches it if it lies in the drain and source loops.
const Mode* rings_at_threshold(const CheckResult& r, std::string& where) {
    const Mode* least = nullptr;
    for (const PointResult& p : r.points) {
        if (!p.point.judged || p.point.current_a != 0) continue;
        for (const Mode& m : p.modes.modes) {
            if (m.kind != ModeKind::differential || !m.oscillates() || !misses(m, r.require)) continue;
            if (least != nullptr && m.damping_ratio() >= least->damping_ratio()) continue;
            least = &m;
            where = p.point.name;
        }
    }
    return least;
}

/// For a differential mode that no gate resistor cures.
std::string differential_remedy(const CheckResult& r) {
    const auto& worst = r.worst_differential;
    std::string where;
    const Mode* rings = rings_at_threshold(r, where);
    if (rings != nullptr || (worst && !worst->fed_by_gain())) {
        std::string out = "the loops ring by themselves";
        if (rings != nullptr)
            out += fmt::format(" ({} at \"{}\", where no device conducts)", damping(rings->damping_ratio()),
                               where);
        out += r.has_snubbers
                   ? " and want more loss: another snubber (its resistance near the loop's characteristic "
                     "impedance), or shorter drain and source paths"
                   : " and want loss: an RC snubber across each device, or resistance in the path that holds "
                     "the mode (`ringquell explain` names it)";
        return worst && worst->fed_by_gain()
                   ? out + "; what the gain feeds then wants gate resistance or a bead"
                   : out;
    }
    if (r.bare_dice)
        return "dice inside a module take no bead: shorten the loop through gates and sources, or give each "
               "gate a "
               "resistor of its own";
    if (r.has_beads)
        return "the beads that are fitted are not enough: another bead (`ringquell choose` compares them), "
               "or a shorter "
               "loop through gates and sources";
    return "add a ferrite bead in each gate path (`ringquell choose` compares them), or shorten the loop "
           "through gates "
           "and sources";
}

std::string common_remedy(const CheckResult& r) {
    const bool fed = r.worst_common && r.worst_common->fed_by_gain();
    return fed ? "the common mode is fed by gain: look at the common source inductance, the driver's loop "
                 "and its bypass"
               : "the common mode only rings: look at the driver's and the power loop's inductance, bypass "
                 "and DC link, and "
                 "put loss there (a damped capacitor, a snubber)";
}

/// Does the whole verdict of the edge pass with its preferred resistor?
bool cured_by_resistor(const CheckResult& r, Edge edge) {
    const auto s = r.gate_resistance.find(edge);
    return s != r.gate_resistance.end() && s->second.preferred_ohm && s->second.passes_with_preferred;
}

std::string passage_remedy(const CheckResult& r) {
    for (const Passage& p : r.passages.passages)
        if (!p.passes() && !cured_by_resistor(r, p.edge))
            return "both dice saturated, too much grows in passing: a bead or a resistor in each gate path, "
                   "resistance in "
                   "the JFETs' gates, a stiffer drive that passes sooner; then hold the current at that "
                   "level and measure";
    return {};
}

bool common_misses(const CheckResult& r) {
    return r.worst_common && misses(r.worst_common->mode, r.require);
}

const char* const how_to_confirm =
    "nothing on paper; confirm by measurement at the worst point: hold the current at that level or slow the "
    "drive, and "
    "probe between the gates, differentially (a clean double pulse proves nothing)";

}  // namespace

std::string advice_line(const CheckResult& r) {
    if (r.gate_resistance.empty()) return {};
    Edges hopeless, others;
    std::map<std::string, Edges> fit;  // edges, by what is to be fitted
    for (const auto& [edge, s] : r.gate_resistance) {
        if (fitted_passes(s) && passage_passes(r, edge)) continue;
        if (s.preferred_ohm && s.passes_with_preferred)
            fit[fmt::format("{} as {}", engineering(*s.preferred_ohm, Dimension::resistance, 3),
                            s.acceptable.key)]
                .push_back(edge_word(edge));
        else
            (s.preferred_ohm ? others : hopeless).push_back(edge_word(edge));
    }
    std::vector<std::string> parts, fits;
    for (const auto& [part, edges] : fit)
        fits.push_back(fmt::format("{} for {}", part, fmt::join(edges, " and ")));
    if (!fits.empty()) parts.push_back(fmt::format("fit {} at every position", fmt::join(fits, " and ")));
    if (!hopeless.empty())
        parts.push_back(fmt::format("no gate resistor alone passes for {}: {}", fmt::join(hopeless, " and "),
                                    differential_remedy(r)));
    if (!others.empty())
        parts.push_back(
            fmt::format("no gate resistor alone passes for {}, because another mode fails all the same",
                        fmt::join(others, " and ")));
    if (common_misses(r)) parts.push_back(common_remedy(r));
    if (const std::string passage = passage_remedy(r); !passage.empty()) parts.push_back(passage);
    if (r.grows_at_required_gain && r.growing.empty())
        parts.emplace_back(
            "damp what grows with more gain: the same remedies as for a mode that the gain feeds "
            "(`ringquell choose` judges the gain margin, too)");
    if (!parts.empty()) return fmt::format("What to do: {}.\n", fmt::join(parts, "; "));
    if (r.verdict == Verdict::pass) return fmt::format("What to do: {}.\n", how_to_confirm);
    return "What to do: see the modes above; no gate resistor alone passes.\n";
}

}  // namespace ringquell::internal
