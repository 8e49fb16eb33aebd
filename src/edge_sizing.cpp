#include "edge_sizing.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "gate_current.h"
#include "ringquell/spread.h"

namespace ringquell {

namespace {

const Mode* least_damped_that_misses(const std::vector<Mode>& modes, const Requirement& require) {
    const Mode* out = nullptr;
    for (const Mode& mode : modes)
        if (misses(mode, require) && (out == nullptr || mode.damping_ratio() < out->damping_ratio()))
            out = &mode;
    return out;
}

/// Judges an edge point by point.
class EdgeJudge {
  public:
    EdgeJudge(const Case& input, Edge edge, Method method)
        : input_(input), edge_(edge), solver_(input, method) {}

    JudgedEdge run() {
        out_.points = operating_path(input_).points;
        std::vector<size_t> done;
        for (size_t i = 0; i < out_.points.size(); ++i) {
            const OperatingPoint& point = out_.points[i];
            if (point.edge != edge_ || !point.judged) continue;
            const bool seen = std::any_of(done.begin(), done.end(),
                                          [&](size_t k) { return same_network(out_.points[k], point); });
            if (seen) continue;
            done.push_back(i);
            add(i, solver_.solve(point).modes);
        }
        if (out_.in_the_way)
            out_.in_the_way = examined(*out_.in_the_way);
        else
            doubt();
        out_.passes = !out_.in_the_way;
        for (size_t k = 0; k < worst_.size(); ++k)
            if (worst_[k])
                (k == 0 ? out_.differential_damping : out_.common_damping) = worst_[k]->mode.damping_ratio();
        return std::move(out_);
    }

  private:
    void add(size_t point, const std::vector<Mode>& modes) {
        const Mode* missing = least_damped_that_misses(modes, input_.require);
        if (missing != nullptr &&
            (!out_.in_the_way || missing->damping_ratio() < out_.in_the_way->mode.damping_ratio()))
            out_.in_the_way = FoundMode{point, *missing, {}};
        for (const Mode& mode : modes) {
            if (!mode.oscillates() || !in_band(mode, input_.require)) continue;
            auto& worst = worst_[mode.kind == ModeKind::common ? 1 : 0];
            if (!worst || mode.damping_ratio() < worst->mode.damping_ratio())
                worst = FoundMode{point, mode, {}};
        }
    }

    FoundMode examined(const FoundMode& found) {
        const OperatingPoint& point = out_.points[found.point];
        return examine(input_, point, solver_.alike(point), found.mode, found.point);
    }

    /// A margin smaller than its own uncertainty is no pass.
    void doubt() {
        for (const auto& worst : worst_) {
            if (!worst) continue;
            const FoundMode found = examined(*worst);
            if (std::abs(found.mode.damping_ratio() - damping_target(found.mode, input_.require)) <=
                found.damping_uncertainty)
                out_.in_the_way = found;
        }
    }

    const Case& input_;
    Edge edge_;
    ModeSolver solver_;
    JudgedEdge out_;
    std::array<std::optional<FoundMode>, 2> worst_;  // in the band: differential, common
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
/// fail are known by it, without the rest of the path.
bool still_in_the_way(const Case& changed, const OperatingPoint& point, Method method) {
    try {
        ModeSolver solver(changed, method);
        return least_damped_that_misses(solver.solve(with_own_gate_current(changed, point)).modes,
                                        changed.require) != nullptr;
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

}  // namespace ringquell
