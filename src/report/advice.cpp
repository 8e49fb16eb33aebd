// What to do, in one sentence: a remedy that fits the mode in the way.
#include "report/advice.h"

#include <fmt/format.h>

#include <algorithm>

#include "report/parts.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

namespace {

/// The least damped differential mode where no device conducts: nothing feeds it, and no gate resistor
/// reaches it if it lies in the drain and source loops.
std::optional<Advice::Ringing> rings_at_threshold(const CheckResult& r) {
    std::optional<Advice::Ringing> least;
    for (const PointResult& p : r.points) {
        if (!p.point.judged || p.point.current_a != 0) continue;
        for (const Mode& m : p.modes.modes) {
            if (m.kind != ModeKind::differential || !m.oscillates() || !misses(m, r.require)) continue;
            if (least && m.damping_ratio() >= least->damping_ratio) continue;
            least = {m.damping_ratio(), p.point.name};
        }
    }
    return least;
}

/// For a differential mode that no gate resistor cures.
void find_differential_remedy(Advice& out, const CheckResult& r) {
    using enum Advice::Differential;
    const auto& worst = r.worst_differential;
    out.rings_at_threshold = rings_at_threshold(r);
    if (out.rings_at_threshold || (worst && !worst->fed_by_gain())) {
        out.differential = r.has_snubbers ? another_snubber : loss;
        out.fed_as_well = worst && worst->fed_by_gain();
    } else {
        out.differential = r.bare_dice ? gate_of_each_die : r.has_beads ? another_bead : bead;
    }
}

/// Does the whole verdict of the edge pass with its preferred resistor?
bool cured_by_resistor(const CheckResult& r, Edge edge) {
    const auto s = r.gate_resistance.find(edge);
    return s != r.gate_resistance.end() && s->second.preferred_ohm && s->second.passes_with_preferred;
}

std::string edge_words(const std::vector<Edge>& edges) {
    std::string out;
    for (const Edge edge : edges) out += (out.empty() ? "" : " and ") + std::string(edge_word(edge));
    return out;
}

std::string loss_words(const Advice& a) {
    std::string out = "the loops ring by themselves";
    if (a.rings_at_threshold)
        out += fmt::format(" ({} at \"{}\", where no device conducts)",
                           damping(a.rings_at_threshold->damping_ratio), a.rings_at_threshold->point);
    out += a.differential == Advice::Differential::another_snubber
               ? " and want more loss: another snubber (its resistance near the loop's characteristic "
                 "impedance), or shorter drain and source paths"
               : " and want loss: an RC snubber across each device, or resistance in the path that holds "
                 "the mode (`ringquell explain` names it)";
    return a.fed_as_well ? out + "; what the gain feeds then wants gate resistance or a bead" : out;
}

std::string differential_words(const Advice& a) {
    switch (a.differential) {
        case Advice::Differential::loss:
        case Advice::Differential::another_snubber:
            return loss_words(a);
        case Advice::Differential::gate_of_each_die:
            return "dice inside a module take no bead: shorten the loop through gates and sources, or give "
                   "each gate a resistor of its own";
        case Advice::Differential::another_bead:
            return "the beads that are fitted are not enough: another bead (`ringquell choose` compares "
                   "them), or a shorter loop through gates and sources";
        case Advice::Differential::bead:
            return "add a ferrite bead in each gate path (`ringquell choose` compares them), or shorten the "
                   "loop through gates and sources";
    }
    return {};
}

/// "fit 10 ohm as gate_path.resistor for turn-on and 4.7 ohm as ... at every position", by their words.
std::string fit_words(const std::vector<Advice::Fit>& fits) {
    std::vector<std::string> out;
    out.reserve(fits.size());
    for (const Advice::Fit& f : fits)
        out.push_back(fmt::format("{} as {} for {}", engineering(f.ohm, Dimension::resistance, 3), f.key,
                                  edge_words(f.edges)));
    std::sort(out.begin(), out.end());
    return fmt::format("fit {} at every position", fmt::join(out, " and "));
}

/// "fit ... at every position: damping -0.0785 -> 0.26 (...)"
std::string least_words(const Advice& a) {
    std::string out = fmt::format("fit {} at every position", changes_words(a.least->changes));
    if (a.least->damping_before && a.least->damping_ratio)
        out += fmt::format(": damping {} -> {}", damping(*a.least->damping_before),
                           damping(*a.least->damping_ratio));
    out +=
        fmt::format(" (price {:.2f}, new parts with typical values; `ringquell cure` ranks what else passes)",
                    a.least->price);
    if (!a.fits.empty() && a.no_value.empty() && a.others.empty())
        out += "; with gate resistors alone, " + fit_words(a.fits);
    else if (!a.no_value.empty())
        out += fmt::format("; no gate resistor alone passes for {}", edge_words(a.no_value));
    return out;
}

}  // namespace

Advice advice(const CheckResult& r) {
    Advice out;
    out.sized = !r.gate_resistance.empty();
    out.confirm = r.verdict == Verdict::pass;
    if (r.first_cure && !r.first_cure->resistors_alone) out.least = r.first_cure;
    for (const auto& [edge, s] : r.gate_resistance) {
        if (fitted_passes(s) && passage_passes(r, edge)) continue;
        if (!cured_by_resistor(r, edge)) {
            (s.preferred_ohm ? out.others : out.no_value).push_back(edge);
            continue;
        }
        const auto same = std::find_if(out.fits.begin(), out.fits.end(), [&s = s](const Advice::Fit& f) {
            return f.ohm == *s.preferred_ohm && f.key == s.acceptable.key;
        });
        if (same != out.fits.end())
            same->edges.push_back(edge);
        else
            out.fits.push_back({*s.preferred_ohm, s.acceptable.key, {edge}});
    }
    if (!out.no_value.empty()) find_differential_remedy(out, r);
    if (r.worst_common && misses(r.worst_common->mode, r.require))
        out.common = r.worst_common->fed_by_gain() ? Advice::Common::fed_by_gain : Advice::Common::rings;
    const auto& passages = r.passages.passages;
    out.passage_grows = std::any_of(passages.begin(), passages.end(), [&](const Passage& p) {
        return !p.passes() && !cured_by_resistor(r, p.edge);
    });
    out.grows_with_required_gain = r.grows_at_required_gain && r.growing.empty();
    return out;
}

std::string advice_words(const Advice& a) {
    if (!a.sized) return {};
    if (a.least) return least_words(a);
    std::vector<std::string> parts;
    if (!a.fits.empty()) parts.push_back(fit_words(a.fits));
    if (!a.no_value.empty())
        parts.push_back(fmt::format("no gate resistor alone passes for {}: {}", edge_words(a.no_value),
                                    differential_words(a)));
    if (!a.others.empty())
        parts.push_back(
            fmt::format("no gate resistor alone passes for {}, because another mode fails all the same",
                        edge_words(a.others)));
    if (a.common == Advice::Common::fed_by_gain)
        parts.emplace_back(
            "the common mode is fed by gain: look at the common source inductance, the driver's loop and its "
            "bypass");
    else if (a.common == Advice::Common::rings)
        parts.emplace_back(
            "the common mode only rings: look at the driver's and the power loop's inductance, bypass and DC "
            "link, and put loss there (a damped capacitor, a snubber)");
    if (a.passage_grows)
        parts.emplace_back(
            "both dice saturated, too much grows in passing: a bead or a resistor in each gate path, "
            "resistance in the JFETs' gates, a stiffer drive that passes sooner; then hold the current at "
            "that level and measure");
    if (a.grows_with_required_gain)
        parts.emplace_back(
            "damp what grows with more gain: the same remedies as for a mode that the gain feeds "
            "(`ringquell choose` judges the gain margin, too)");
    if (!parts.empty()) return fmt::format("{}", fmt::join(parts, "; "));
    if (a.confirm)
        return "nothing on paper; confirm by measurement at the worst point: hold the current at that level "
               "or slow the drive, and probe between the gates, differentially (a clean double pulse proves "
               "nothing)";
    return "see the modes above; no gate resistor alone passes";
}

std::string advice_line(const CheckResult& r) {
    const std::string words = advice_words(advice(r));
    return words.empty() ? "" : fmt::format("What to do: {}.\n", words);
}

}  // namespace ringquell::internal
