#include "review/warnings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "base/lists.h"
#include "case/enum_names.h"
#include "modes/examine.h"
#include "modes/sensitivity.h"
#include "review/unused_couplings.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

namespace {

// Above this, lumped elements without losses say little (common practice, no source).
constexpr double doubtful_hz = 300e6;
// What parts vary by in common practice; a window's end closer than this to the fitted value is within their
// spread.
constexpr double parts_spread = 0.30;

/// Positions, from 1, at which the test holds.
template <class Test>
std::vector<int> positions_where(const Case& input, Test test) {
    std::vector<int> out;
    for (int k = 0; k < input.n(); ++k)
        if (test(input.positions[static_cast<size_t>(k)])) out.push_back(k + 1);
    return out;
}

/// The modes on which the verdict hangs: the worst that miss, and the fastest growing one beside the band.
std::vector<FoundMode> deciding_modes(const CheckResult& result) {
    std::vector<FoundMode> out;
    for (const auto& m : {result.worst_differential, result.worst_common})
        if (m && misses(m->mode, result.require)) out.push_back(*m);
    for (const FoundMode& g : result.growing)
        if (g.mode.oscillates() && !in_band(g.mode, result.require)) {
            out.push_back(g);
            break;
        }
    return out;
}

/// Currents that hold energy of the mode and have no resistance of their own, by the name of their
/// inductance: skin effect, board loss, bead are what is missing there.
std::vector<std::string> lossless_currents(const Network& network, std::complex<double> eigenvalue) {
    struct Current {
        double energy = 0;
        bool has_resistance = false;
        std::string name;
    };
    const ModeShares shares = mode_shares(network, eigenvalue);
    std::map<int, Current> currents;  // by unknown
    for (size_t i = 0; i < network.elements.size(); ++i) {
        const Element& e = network.elements[i];
        if (e.left.size() != 1) continue;
        const int unknown = e.left.front().first;
        if (!network.unknowns[static_cast<size_t>(unknown)].is_current) continue;
        Current& current = currents[unknown];
        if (e.kind == ElementKind::resistance) current.has_resistance = true;
        if (e.kind == ElementKind::inductance) {
            current.energy += shares.elements[i].energy_share;
            current.name = e.name;
        }
    }
    std::vector<std::string> out;
    constexpr double matters = 0.05;  // share of the mode's energy
    for (const auto& [unknown, current] : currents)
        if (!current.has_resistance && current.energy > matters &&
            std::find(out.begin(), out.end(), current.name) == out.end())
            out.push_back(current.name);
    return out;
}

void add_lossless_loops(const Case& input, const CheckResult& result, std::vector<Warning>& out) {
    for (const FoundMode& m : deciding_modes(result)) {
        if (m.mode.natural_frequency_hz() <= doubtful_hz) continue;
        const PointResult& at = result.points[m.point];
        const Network network = network_of(input, at.point, at.modes.by_blocks(), m.mode.kind);
        const std::vector<std::string> lossless = lossless_currents(network, m.mode.eigenvalue);
        if (lossless.empty()) continue;
        out.push_back(
            {"require.band",
             fmt::format("the verdict hangs on a mode at {}, above {}, and no loss is given in {}: skin "
                         "effect and board loss there would damp it; give resistances, or measure",
                         engineering(m.mode.natural_frequency_hz(), Dimension::frequency, 3),
                         engineering(doubtful_hz, Dimension::frequency, 3), fmt::join(lossless, ", "))});
    }
}

/// A window that ends close to what is fitted.
void add_close_ends(const EdgeSizing& s, const char* edge, std::vector<Warning>& out) {
    for (const Window& w : s.acceptable.windows) {
        if (s.fitted_lowest_ohm < w.low || s.fitted_highest_ohm > w.high) continue;
        const bool low = w.low_bound != Bound::limit && s.fitted_lowest_ohm < (1 + parts_spread) * w.low;
        const bool high = w.high_bound != Bound::limit && s.fitted_highest_ohm > (1 - parts_spread) * w.high;
        if (!low && !high) continue;
        out.push_back({s.acceptable.key,
                       fmt::format("for {} the acceptable window ends at {:.4g} ohm, within the parts' usual "
                                   "spread (30 %) of the fitted {}: it passes on paper only",
                                   edge, low ? w.low : w.high,
                                   engineering(low ? s.fitted_lowest_ohm : s.fitted_highest_ohm,
                                               Dimension::resistance))});
    }
}

void add_narrow_windows(const EdgeSizing& s, const char* edge, std::vector<Warning>& out) {
    for (const Window& w : s.acceptable.windows) {
        const bool both = w.low_bound != Bound::limit && w.high_bound != Bound::limit;
        if (!both || w.high >= (1 + parts_spread) / (1 - parts_spread) * w.low) continue;
        out.push_back({s.acceptable.key, fmt::format("for {} the window from {:.4g} to {:.4g} ohm is "
                                                     "narrower than the parts' usual spread (30 %)",
                                                     edge, w.low, w.high)});
    }
}

/// A rail and its return count from tap k to tap k + 1 both, so that side by side they couple positively.
void add_opposed_rails(const Case& input, std::vector<Warning>& out) {
    for (size_t c = 0; c < input.couplings.size(); ++c) {
        const Coupling& coupling = input.couplings[c];
        const auto pair = [&](const char* a, const char* b) {
            return (coupling.first.name == a && coupling.second.name == b) ||
                   (coupling.first.name == b && coupling.second.name == a);
        };
        const bool rails = pair("buses.drain", "buses.source") || pair("buses.gate", "buses.kelvin");
        const double value = coupling.coefficient.value_or(coupling.mutual_h.value_or(0));
        if (rails && coupling.first.index == coupling.second.index && value < 0)
            out.push_back(
                {fmt::format("couplings[{}]", c + 1),
                 fmt::format("{} and {} both count from tap k to tap k + 1; side by side they have a "
                             "positive coupling, which makes the loop between them smaller. This one "
                             "is negative: is the sign right?",
                             coupling.first.name, coupling.second.name)});
    }
}

}  // namespace

std::vector<Warning> layout_warnings(const Case& input) {
    std::vector<Warning> out;
    const int n = input.n();
    for (size_t c = 0; c < input.couplings.size(); ++c) {
        const Coupling& coupling = input.couplings[c];
        const auto pair = [&](const char* a, const char* b) {
            return (coupling.first.name == a && coupling.second.name == b) ||
                   (coupling.first.name == b && coupling.second.name == a);
        };
        const bool go_and_return = pair("gate_path", "kelvin_path") ||
                                   pair("package.gate", "package.kelvin") || pair("driver", "driver.return");
        const bool same_position = coupling.first.index == coupling.second.index;
        const double value = coupling.coefficient.value_or(coupling.mutual_h.value_or(0));
        if (go_and_return && same_position && value > 0)
            out.push_back(
                {fmt::format("couplings[{}]", c + 1),
                 fmt::format(
                     "{} and {} carry the same current there and back; side by side they have a negative "
                     "coupling, which makes the loop smaller. This one is positive: is the sign right?",
                     coupling.first.name, coupling.second.name)});
    }
    add_opposed_rails(input, out);
    auto at = positions_where(input, [](const Position& p) {
        return p.common_mode_choke && p.common_mode_choke->leakage_h > 2 * p.common_mode_choke->inductance_h;
    });
    if (!at.empty())
        out.push_back({"common_mode_choke",
                       fmt::format("the leakage exceeds twice the inductance, so the windings couple the "
                                   "wrong way round{}: the gate's go-and-return current sees the large "
                                   "inductance, the common-mode current the small one",
                                   at_positions(at, n))});
    at = positions_where(input,
                         [](const Position& p) { return p.gate_shunt && p.gate_shunt->resistance_ohm == 0; });
    if (!at.empty())
        out.push_back(
            {"gate_shunt.resistance",
             fmt::format(
                 "a capacitance (or clamp) straight from gate to source without resistance{}: with the gate "
                 "loop's inductance it makes a resonance of its own; a few ohm in series damp it",
                 at_positions(at, n))});
    at = positions_where(
        input, [](const Position& p) { return !p.device.package.kelvin_h && p.device.package.source_h > 0; });
    if (!at.empty())
        out.push_back(
            {"device.package.kelvin",
             fmt::format(
                 "three leads{}: the gate's return current shares {} of source lead with the load current; "
                 "this common source inductance slows the edges and ties the gate loop to the power loop",
                 at_positions(at, n),
                 engineering(input.positions[static_cast<size_t>(at.front() - 1)].device.package.source_h,
                             Dimension::inductance))});
    return out;
}

std::vector<Warning> result_warnings(const Case& input, const CheckResult& result) {
    std::vector<Warning> out = unused_couplings(input, result.points);
    add_lossless_loops(input, result, out);
    for (const auto& [edge, sizing] : result.gate_resistance) {
        add_close_ends(sizing, edge_word(edge), out);
        add_narrow_windows(sizing, edge_word(edge), out);
    }
    return out;
}

}  // namespace ringquell::internal
