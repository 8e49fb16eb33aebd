#include "review/gate_sweep.h"

#include <algorithm>
#include <cmath>
#include <memory>
#include <set>

#include "devices/gate_current.h"
#include "modes/ranking.h"
#include "review/parallel.h"
#include "sizing/e24.h"
#include "sizing/trial.h"

namespace ringquell::internal {

namespace {

constexpr size_t most_roots = 24;        // of one point, least damped
constexpr double beyond_band = 3;        // roots this many times outside the band are still drawn
constexpr double first_e24_ohm = 1;      // below it, three values a decade
constexpr double all_points_cost = 8e6;  // points × values × positions³ that take some seconds

/// How far the point's worst mode is from what is asked: of the differential ones, which the resistor is
/// sized for, and of what grows.
double least_margin(const PointResult& r, const Requirement& require) {
    double least = 1;
    for (const Mode& mode : r.modes.modes)
        if (grows(mode) || (mode.kind == ModeKind::differential && rings_in_band(mode, require)))
            least = std::min(least, damping_margin(mode, require));
    return least;
}

std::vector<double> values_to_sweep(const EdgeSizing& sizing, double limit, size_t most) {
    std::set<double> grid{0.0, limit};
    for (const double ohm : {0.1, 0.22, 0.47})
        if (ohm < limit) grid.insert(ohm);
    for (double ohm = first_e24_ohm; ohm < limit; ohm = e24_at_least(ohm * (1 + 1e-9))) grid.insert(ohm);
    std::vector<double> thinned;
    const size_t step = std::max<size_t>(1, (grid.size() + most - 1) / most);
    size_t k = 0;
    for (const double ohm : grid)
        if (k++ % step == 0 || ohm == limit) thinned.push_back(ohm);
    std::set<double> out(thinned.begin(), thinned.end());
    for (const double ohm :
         {sizing.fitted_lowest_ohm, sizing.fitted_highest_ohm, sizing.preferred_ohm.value_or(0)})
        if (ohm <= limit) out.insert(ohm);
    for (const Window& w : sizing.acceptable.windows) {
        out.insert(w.low);
        out.insert(w.high);
    }
    return {out.begin(), out.end()};
}

SweptMode swept(const Mode& mode, size_t point) {
    return {mode.natural_frequency_hz(), mode.damping_ratio(), mode.kind, point};
}

void judge(const Modes& modes, size_t point, bool keep_roots, const Requirement& require, SweptValue& out) {
    for (const Mode& mode : modes.modes) {
        if (grows(mode)) ++out.growing;
        if (misses(mode, require)) out.passes = false;
        if (!mode.oscillates() || !keep_roots || out.roots.size() == most_roots) continue;
        const double f = mode.natural_frequency_hz();
        if (f >= require.band_low_hz / beyond_band && f <= require.band_high_hz * beyond_band)
            out.roots.push_back(swept(mode, point));
    }
    for (const ModeKind kind : {ModeKind::differential, ModeKind::common}) {
        const Mode* least = least_damped(modes.modes, kind, require);
        auto& worst = kind == ModeKind::common ? out.common : out.differential;
        if (least != nullptr && (!worst || least->damping_ratio() < worst->damping_ratio))
            worst = swept(*least, point);
    }
}

/// The different networks among the judged points of the edge, hardest first: the least damped one, those
/// that bound a window, the others.
std::vector<size_t> points_to_sweep(const CheckResult& result, Edge edge, const EdgeSizing& sizing) {
    std::vector<size_t> order;
    for (size_t i = 0; i < result.points.size(); ++i)
        if (result.points[i].point.edge == edge && result.points[i].point.judged) order.push_back(i);
    hardest_first(order, result.points,
                  [&](const PointResult& r) { return least_margin(r, result.require); });
    // Where a window ends is harder than what is least damped now.
    const auto bounds = [&](size_t i) {
        const std::string& name = result.points[i].point.name;
        return std::any_of(sizing.acceptable.windows.begin(), sizing.acceptable.windows.end(),
                           [&](const Window& w) { return w.low_point == name || w.high_point == name; });
    };
    std::stable_partition(order.begin() + 1, order.end(), bounds);
    std::vector<size_t> distinct;
    for (const size_t i : order)
        if (std::none_of(distinct.begin(), distinct.end(), [&](size_t k) {
                return same_network_with_any_resistor(result.points[k].point, result.points[i].point);
            }))
            distinct.push_back(i);
    return distinct;
}

GateSweep sweep(const Case& input, const CheckResult& result, Edge edge, const EdgeSizing& sizing) {
    GateSweep out;
    out.edge = edge;
    out.key = sizing.acceptable.key;
    std::vector<size_t> distinct = points_to_sweep(result, edge, sizing);
    out.point = distinct.front();
    out.points_of_edge = distinct.size();

    size_t most_values = 64;
    if (!result.points[out.point].modes.by_blocks()) {
        const double evaluations = all_points_cost / std::pow(input.n(), 3);
        most_values = static_cast<size_t>(std::clamp(evaluations / 8, 8.0, 64.0));
        const double points = std::max(1.0, evaluations / static_cast<double>(most_values));
        if (points < static_cast<double>(distinct.size())) distinct.resize(static_cast<size_t>(points));
    }
    out.points = distinct.size();
    for (const double ohm : values_to_sweep(sizing, result.require.gate_resistance_limit_ohm, most_values)) {
        out.values.emplace_back();
        out.values.back().ohm = ohm;
    }

    std::vector<char> not_judged(out.values.size(), 0);
    on_all_processors(
        out.values.size(), [&] { return std::make_unique<Trial>(input); },
        [&](Trial& trial, size_t k) {
            SweptValue& value = out.values[k];
            try {
                trial.fit_gate_resistor(edge, value.ohm);
                value.passes = true;
                for (const size_t i : distinct) {
                    // A bead's bias moves with the resistor.
                    const OperatingPoint point = with_own_gate_current(trial.input(), result.points[i].point);
                    judge(trial.modes(point), i, i == out.point, result.require, value);
                    if (const auto& gain = result.require.gain_margin; gain && value.passes)
                        value.passes = !grows_with_gain(trial.solver(), point, *gain);
                }
            } catch (const NumericalError&) {
                not_judged[k] = 1;
            }
        });
    std::vector<SweptValue> judged;
    for (size_t k = 0; k < out.values.size(); ++k)
        if (not_judged[k] == 0) judged.push_back(std::move(out.values[k]));
    out.values = std::move(judged);
    return out;
}

}  // namespace

std::vector<GateSweep> sweep_gate_resistors(const Case& input, const CheckResult& result) {
    std::vector<GateSweep> out;
    for (const auto& [edge, sizing] : result.gate_resistance)
        out.push_back(sweep(input, result, edge, sizing));
    return out;
}

}  // namespace ringquell::internal
