#include "ringquell/vary.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "devices/gate_current.h"
#include "modes/sensitivity.h"
#include "network/reducer.h"
#include "ringquell/judge.h"
#include "ringquell/numbers.h"
#include "sizing/boundary_cache.h"
#include "sizing/boundary_pencil.h"
#include "sizing/trial.h"
#include "sizing/window_search.h"

namespace ringquell {

using namespace internal;

namespace {

bool is_shared(const std::string& key) {
    return key.starts_with("power_loop") || key.starts_with("driver") || key.starts_with("buses");
}

/// All values in [from, to] at which this point's modes can bound a window (in an uneven layout all but a
/// change of kind); empty optional where the key is not of rank one, as a key of all positions that differ.
std::optional<std::vector<double>> candidates(Trial& trial, const std::string& key, size_t point,
                                              bool common_too, double from, double to, BoundaryCache& cache) {
    const Case& input = trial.input();
    const double there = to != 0 ? to : from;  // an element that is zero now must be there
    trial.set(there);
    const bool alike = trial.alike(point);
    const OperatingPoint& p = trial.path().points[point];
    std::vector<double> out;
    for (Block block : alike ? std::vector{Block::differential, Block::common} : std::vector{Block::whole}) {
        if (block == Block::differential && input.n() == 1) continue;
        if (block == Block::common && !common_too) continue;
        const Network network = build_network(input, p, {block, true, false});
        size_t found = network.elements.size();
        for (size_t i = 0; i < network.elements.size(); ++i) {
            if ((alike ? network.elements[i].name : network.elements[i].label()) != key) continue;
            if (found != network.elements.size()) return std::nullopt;
            found = i;
        }
        if (found == network.elements.size()) {
            // A shared part is in no differential block, and the other edge's part not in this network: it
            // moves nothing here.
            bool known = is_shared(key) && block == Block::differential;
            known = known || key.starts_with("driver.pull_") || key.starts_with("driver.bypass") ||
                    key.starts_with("driver.turn_off_bypass") ||
                    key.find("complementary") != std::string::npos;
            if (!known) return std::nullopt;
            continue;
        }
        const Element& e = network.elements[found];
        if (e.kind == ElementKind::mutual) return std::nullopt;
        if (e.kind == ElementKind::resistance && has_saturating_bead(input) &&
            (key.starts_with("gate_path") || key.starts_with("kelvin_path") || key.starts_with("driver") ||
             key.starts_with("device")))
            return std::nullopt;  // the bias of a bead moves with it
        const double value = e.reciprocal ? 1 / (e.scale * e.value) : e.value / e.scale;
        if (std::abs(value - there) > 1e-12 * std::abs(there))
            return std::nullopt;  // the network does not take the key as it is
        const int number = static_cast<int>(found);
        for (const Element& m : network.elements)  // a coupling by coefficient moves with it
            if (m.name.ends_with(".coefficient") && (m.first == number || m.second == number))
                return std::nullopt;
        std::vector<double> targets;
        if (block != Block::common) targets.push_back(input.require.differential_damping);
        if (block != Block::common && input.require.passive_damping)
            targets.push_back(*input.require.passive_damping);
        if (block != Block::differential && common_too)
            targets.push_back(input.require.common_damping.value_or(0));
        for (const double target : targets)
            for (double v : boundary_values(network, found, target, input.require,
                                            std::numeric_limits<double>::infinity(), &cache)) {
                const double k = e.reciprocal
                                     ? (v > 0 ? 1 / (e.scale * v) : std::numeric_limits<double>::infinity())
                                     : v / e.scale;
                if (k > from && k < to) out.push_back(k);
            }
    }
    std::sort(out.begin(), out.end());
    return out;
}

double slope_by_difference(Trial& trial, size_t point, double value, const Mode& mode, double range) {
    const double step = 1e-6 * range;
    const auto nearest = [&](double at) {
        const auto modes = trial.modes(point, at);
        const auto it = std::min_element(modes.begin(), modes.end(), [&](const Mode& a, const Mode& b) {
            return std::abs(a.eigenvalue - mode.eigenvalue) < std::abs(b.eigenvalue - mode.eigenvalue);
        });
        return it == modes.end() ? mode.damping_ratio() : it->damping_ratio();
    };
    return (nearest(value + step) - mode.damping_ratio()) / step;
}

/// The windows of [from, to] of `out`. Throws InputError where the case cannot be with a value in it.
void search_range(Trial& trial, const Requirement& require, Varied& out) {
    out.acceptable = {};
    out.acceptable.key = out.keys.front();
    out.acceptable.complete = true;
    out.acceptable.windows = {{out.from, out.to, Bound::limit, Bound::limit, {}, {}}};
    std::vector<OperatingPoint> seen;
    BoundaryCache cache;
    trial.set(trial.now);
    const size_t count = trial.path().points.size();
    for (size_t i = 0; i < count && !out.acceptable.windows.empty(); ++i) {
        trial.set(trial.now);
        const OperatingPoint point = trial.path().points[i];
        if (!point.judged) continue;
        if (std::any_of(seen.begin(), seen.end(),
                        [&](const OperatingPoint& p) { return same_network(p, point); }))
            continue;
        seen.push_back(point);
        Search search;
        search.require = &require;
        search.common_too = out.common_too;
        search.point = point.name;
        search.modes_at = [&](double value) { return trial.modes(i, value); };
        if (out.keys.size() == 1) {
            try {
                search.candidates =
                    candidates(trial, out.keys.front(), i, out.common_too, out.from, out.to, cache);
            } catch (const NumericalError&) {
                // The values may be such that a pencil of the bounds is singular; then sample.
            }
        }
        search.kinds_move = !trial.alike(i);
        if (!search.candidates) {
            search.damping_slope = [&](double value, const Mode& mode) {
                return slope_by_difference(trial, i, value, mode, out.to - out.from);
            };
        }
        std::vector<Window> left;
        for (const Window& window : out.acceptable.windows) {
            search.low = window.low;
            search.high = window.high;
            if (!(window.high - window.low > 1e-9 * (out.to - out.from))) continue;
            Searched found = search_windows(search, out.acceptable.evaluations);
            out.acceptable.complete = out.acceptable.complete && found.complete;
            for (Window& w : found.windows) {
                if (w.low == window.low) w.low_bound = window.low_bound, w.low_point = window.low_point;
                if (w.high == window.high) w.high_bound = window.high_bound, w.high_point = window.high_point;
                left.push_back(w);
            }
        }
        out.acceptable.windows = std::move(left);
    }
}

}  // namespace

Varied acceptable_values(const Case& input, const std::vector<std::string>& keys,
                         const VaryOptions& options) {
    Trial trial(input, keys);
    Varied out;
    out.keys = keys;
    out.dimension = trial.dimension;
    out.now = trial.now;
    out.common_too = options.common_too.value_or(std::any_of(keys.begin(), keys.end(), is_shared));
    const bool coefficient = keys.front().ends_with(".coefficient");
    const bool mutual = keys.front().starts_with("couplings[") && !coefficient;  // of either sign, too
    const double top = default_top(out.dimension, mutual ? std::abs(out.now) : out.now, input.require);
    out.from = options.from.value_or(coefficient ? -0.99 : mutual ? -top : 0);
    out.to = options.to.value_or(coefficient ? 0.99 : top);
    if (!(out.from < out.to))
        throw InputError({}, "--from", "the range is empty; expected --from below --to");
    // What the network cannot be ends the range: seen at the ends, as a rule, else on the way.
    const double start = std::clamp(out.now, out.from, out.to);
    if (!trial.possible(start)) {
        out.acceptable.key = keys.front();
        out.acceptable.complete = true;
        return out;
    }
    out.from = trial.reach(start, out.from);
    out.to = trial.reach(start, out.to);
    constexpr int most_ends = 8;
    for (int ends = 0;; ++ends) {
        try {
            search_range(trial, input.require, out);
            return out;
        } catch (const InputError&) {
            const double at = trial.tried();
            if (ends == most_ends || at == start) throw;
            (at > start ? out.to : out.from) = trial.reach(start, at);
        }
    }
}

std::vector<std::string> layout_keys(const Case& input) {
    std::vector<std::string> out;
    for (const std::string& key : number_keys(input)) {
        const bool inductance =
            key.ends_with("inductance") || key.starts_with("device.package.") || key.ends_with(".esl");
        const bool layout = key.starts_with("gate_path.inductance") || key.starts_with("kelvin_path.") ||
                            key.starts_with("drain_path.") || key.starts_with("source_path.") ||
                            key.starts_with("buses.") || key.starts_with("snubber.") ||
                            key.starts_with("driver.") || key.starts_with("power_loop.") ||
                            key.starts_with("device.package.") || key.starts_with("leg.");
        if (inductance && layout && key.find("load") == std::string::npos &&
            key.find("bead") == std::string::npos && key.find('[') == std::string::npos)
            out.push_back(key);
    }
    return out;
}

}  // namespace ringquell
