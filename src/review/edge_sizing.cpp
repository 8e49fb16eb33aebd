#include "review/edge_sizing.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "devices/gate_current.h"
#include "modes/examine.h"
#include "ringquell/spread.h"
#include "sizing/e24.h"

namespace ringquell::internal {

namespace {

double shortfall(const Mode& mode, const Requirement& require) {
    return damping_target(mode, require) - mode.damping_ratio();
}

/// The mode of a point that fails it: one that grows, by more than its uncertainty, else the one in the band
/// that falls shortest of its target.
std::optional<FoundMode> missing(const Case& input, const ModeSolver& solver,
                                 const std::vector<OperatingPoint>& points, size_t index,
                                 const std::vector<Mode>& modes) {
    const auto examined = [&](const Mode& mode) {
        return examine(input, points[index], solver.alike(points[index]), mode, index);
    };
    const Mode* shortest = nullptr;
    for (const Mode& mode : modes) {
        if (grows(mode)) {
            const FoundMode found = examined(mode);
            if (certainly_grows(found)) return found;
        } else if (misses(mode, input.require)) {
            if (shortest == nullptr || shortfall(mode, input.require) > shortfall(*shortest, input.require))
                shortest = &mode;
        }
    }
    if (shortest == nullptr) return std::nullopt;
    return examined(*shortest);
}

/// Judges an edge point by point.
class EdgeJudge {
  public:
    EdgeJudge(const Case& input, Edge edge, Method method)
        : input_(input), edge_(edge), solver_(input, method) {}

    JudgedEdge run() {
        out_.points = operating_path(input_).points;
        std::vector<Modes> modes(out_.points.size());
        std::vector<size_t> done;
        for (size_t i = 0; i < out_.points.size(); ++i) {
            const OperatingPoint& point = out_.points[i];
            if (point.edge != edge_) continue;
            of_edge_.push_back(i);
            const auto same = std::find_if(done.begin(), done.end(),
                                           [&](size_t k) { return same_network(out_.points[k], point); });
            const bool seen = same != done.end();
            modes[i] = seen ? modes[*same] : solver_.solve(point);
            if (point.judged && !(seen && out_.points[*same].judged)) {
                add(i, modes[i].modes);
                if (!out_.in_the_way) add_gain(i);
            }
            if (!seen) done.push_back(i);
        }
        if (!out_.in_the_way) doubt();
        if (!out_.in_the_way) pass(modes);
        out_.passes = !out_.in_the_way;
        return std::move(out_);
    }

  private:
    void add(size_t index, const std::vector<Mode>& modes) {
        const auto found = missing(input_, solver_, out_.points, index, modes);
        if (found && (!out_.in_the_way || shortfall(found->mode, input_.require) >
                                              shortfall(out_.in_the_way->mode, input_.require)))
            out_.in_the_way = found;
        for (const Mode& mode : modes) {
            if (!mode.oscillates() || !in_band(mode, input_.require)) continue;
            const bool common = mode.kind == ModeKind::common;
            auto& least = common ? out_.common_damping : out_.differential_damping;
            least = std::min(least.value_or(mode.damping_ratio()), mode.damping_ratio());
            auto& nearest = nearest_[common ? 1 : 0];
            if (!nearest || shortfall(mode, input_.require) > shortfall(nearest->mode, input_.require))
                nearest = FoundMode{index, mode, {}};
        }
    }

    /// require.gain_margin: what grows with all gains that much larger.
    void add_gain(size_t index) {
        const auto& gain = input_.require.gain_margin;
        if (!gain) return;
        if (const auto grown = grows_with_gain(solver_, out_.points[index], *gain)) {
            const OperatingPoint scaled = with_gain(out_.points[index], *gain);
            out_.in_the_way = examine(input_, scaled, solver_.alike(scaled), *grown, index);
        }
    }

    /// A margin smaller than its own uncertainty is no pass.
    void doubt() {
        for (const auto& nearest : nearest_) {
            if (!nearest || damping_target(nearest->mode, input_.require) <= 0) continue;
            const OperatingPoint& point = out_.points[nearest->point];
            const FoundMode found =
                examine(input_, point, solver_.alike(point), nearest->mode, nearest->point);
            if (std::abs(shortfall(found.mode, input_.require)) <= found.damping_uncertainty)
                out_.in_the_way = found;
        }
    }

    /// What is judged in passing: how long a stage lasts hangs on the resistor, too.
    void pass(const std::vector<Modes>& modes) {
        std::vector<OperatingPoint> points;
        std::vector<const Modes*> of_points;
        bool passing_grows = false;
        for (const size_t i : of_edge_) {
            points.push_back(out_.points[i]);
            of_points.push_back(&modes[i]);
            passing_grows =
                passing_grows ||
                (!out_.points[i].judged && std::any_of(modes[i].modes.begin(), modes[i].modes.end(), grows));
        }
        if (!passing_grows) return;
        const Passages passages = pass_stages(input_, points, of_points, follow_path(input_, points));
        for (const Passage& passage : passages.passages) {
            if (passage.passes()) continue;
            for (const Stage& stage : passages.stages) {
                const bool part = std::find(passage.stages.begin(), passage.stages.end(), stage.name) !=
                                  passage.stages.end();
                if (!part || !stage.least) continue;
                if (!out_.in_the_way ||
                    stage.least->mode.damping_ratio() < out_.in_the_way->mode.damping_ratio())
                    out_.in_the_way = FoundMode{of_edge_[stage.least->point], stage.least->mode, {}};
            }
        }
    }

    const Case& input_;
    Edge edge_;
    ModeSolver solver_;
    JudgedEdge out_;
    std::vector<size_t> of_edge_;
    std::array<std::optional<FoundMode>, 2> nearest_;  // to its target, in the band: differential, common
};

/// With numbers that fail nothing can be said for the value.
JudgedEdge judged_or_failed(const Case& input, Edge edge, Method method) {
    try {
        return judge_edge(input, edge, method);
    } catch (const NumericalError&) {
        JudgedEdge out;
        out.passes = false;
        return out;
    }
}

/// Does the point that was in the way of another value stand in the way of this one, too? Most values that
/// fail are known by it, without the rest of the path. Of a passage no single point says it.
bool still_in_the_way(const Case& changed, const OperatingPoint& hardest, Method method) {
    if (!hardest.judged) return false;
    try {
        ModeSolver solver(changed, method);
        const OperatingPoint point = with_own_gate_current(changed, hardest);
        return missing(changed, solver, {point}, 0, solver.solve(point).modes).has_value();
    } catch (const NumericalError&) {
        return true;
    }
}

void set_fitted(EdgeSizing& sizing, const Case& input, Edge edge) {
    bool first = true;
    for (const Position& position : input.positions) {
        const GatePath& path = position.gate_path;
        const bool by_diode = path.diode && path.diode->blocks != edge;
        const double value = by_diode ? path.diode->resistor_ohm : path.resistor_ohm.of(edge);
        sizing.fitted_lowest_ohm = first ? value : std::min(sizing.fitted_lowest_ohm, value);
        sizing.fitted_highest_ohm = first ? value : std::max(sizing.fitted_highest_ohm, value);
        first = false;
    }
}

/// The hardest points first: what they exclude need not be searched again.
std::vector<OperatingPoint> hardest_first(const std::vector<PointResult>& points,
                                          const Requirement& require) {
    std::vector<std::pair<double, size_t>> order;
    for (size_t i = 0; i < points.size(); ++i) {
        double least = 1;
        for (const Mode& mode : points[i].modes.modes)
            if (mode.kind == ModeKind::differential &&
                (grows(mode) || (mode.oscillates() && in_band(mode, require))))
                least = std::min(least, mode.damping_ratio());
        order.emplace_back(least, i);
    }
    std::stable_sort(order.begin(), order.end(),
                     [](const auto& a, const auto& b) { return a.first < b.first; });
    std::vector<OperatingPoint> out;
    for (const auto& [damping, i] : order) out.push_back(points[i].point);
    return out;
}

void prefer(EdgeSizing& sizing, const Case& input, Edge edge, Method method) {
    constexpr int many = 64;  // positions from which 59 samples take minutes
    const std::vector<Window>& windows = sizing.acceptable.windows;
    sizing.by_samples = !input.spread.empty() && input.n() < many;
    const auto first =
        sizing.by_samples ? preferred_by_samples(input, edge, windows) : preferred_value(windows);
    if (!first) return;
    const auto has_room = [&](const Window& window, double ohm) {
        if (!sizing.by_samples) return has_margin(window, ohm);
        Window alone = window;
        alone.low = alone.high = ohm;
        return preferred_by_samples(input, edge, {alone}).has_value();
    };
    const Preferred preferred = judged_preferred(input, edge, windows, *first, has_room, method);
    sizing.preferred_ohm = preferred.ohm;
    sizing.passes_with_preferred = preferred.judged.passes;
    sizing.fails_with_preferred = preferred.judged.in_the_way;
}

}  // namespace

JudgedEdge judge_edge(const Case& input, Edge edge, Method method) {
    return EdgeJudge(input, edge, method).run();
}

Preferred judged_preferred(const Case& input, Edge edge, const std::vector<Window>& windows, double first,
                           const std::function<bool(const Window&, double)>& has_room, Method method) {
    Case changed = input;
    fit_gate_resistor(changed, edge, first);
    Preferred out{first, judged_or_failed(changed, edge, method)};
    if (out.judged.passes || !out.judged.in_the_way) return out;
    constexpr int many = 32, few_tries = 4;  // positions from which a value takes seconds
    int tries = 0;
    OperatingPoint hardest = out.judged.points[out.judged.in_the_way->point];
    for (const Window& window : windows) {
        for (double ohm = e24_at_least(std::max(1.01 * first, window.low)); ohm <= window.high;
             ohm = e24_at_least(1.01 * ohm)) {
            if (input.n() >= many && ++tries > few_tries) return out;
            fit_gate_resistor(changed, edge, ohm);
            if (still_in_the_way(changed, hardest, method)) continue;
            JudgedEdge judged = judged_or_failed(changed, edge, method);
            if (judged.passes && has_room(window, ohm)) return {ohm, std::move(judged)};
            if (judged.in_the_way) hardest = judged.points[judged.in_the_way->point];
        }
    }
    return out;
}

EdgeSizing size_edge(ModeSolver& solver, const std::vector<PointResult>& points, Edge edge,
                     const CheckOptions& options) {
    const Case& input = solver.input();
    EdgeSizing out;
    set_fitted(out, input, edge);
    try {
        out.acceptable =
            acceptable_gate_resistance(solver, hardest_first(points, input.require), edge, options.effort);
        if (!out.acceptable.windows.empty()) out.minimum_ohm = out.acceptable.windows.front().low;
        prefer(out, input, edge, options.method);
    } catch (const NumericalError& error) {
        out.acceptable.complete = false;
        out.acceptable.why_not_complete = error.what();
        out.acceptable.key = gate_resistor_element(input, edge);
        out.preferred_ohm.reset();
    }
    return out;
}

}  // namespace ringquell::internal
