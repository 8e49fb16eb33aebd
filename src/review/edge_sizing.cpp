#include "review/edge_sizing.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "devices/gate_current.h"
#include "estimates/walked_modes.h"
#include "modes/effort.h"
#include "modes/examine.h"
#include "modes/ranking.h"
#include "ringquell/spread.h"
#include "sizing/e24.h"
#include "sizing/trial.h"

namespace ringquell::internal {

namespace {

/// Does the first miss by more, or meet by less, than the second?
bool is_harder(const Mode& a, const Mode& b, const Requirement& require) {
    return damping_margin(a, require) < damping_margin(b, require);
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
            if (shortest == nullptr || is_harder(mode, *shortest, input.require)) shortest = &mode;
        }
    }
    if (shortest == nullptr) return std::nullopt;
    return examined(*shortest);
}

/// Judges an edge point by point.
class EdgeJudge {
  public:
    EdgeJudge(Trial& trial, Edge edge)
        : trial_(trial), input_(trial.input()), edge_(edge), solver_(trial.solver()) {}

    JudgedEdge run() {
        out_.points = trial_.path().points;
        const auto of_edge = [this](const OperatingPoint& point) { return point.edge == edge_; };
        const std::vector<size_t> same = first_of_network(out_.points, of_edge);
        std::vector<Modes> modes(out_.points.size());
        for (size_t i = 0; i < out_.points.size(); ++i) {
            const OperatingPoint& point = out_.points[i];
            if (!of_edge(point)) continue;
            of_edge_.push_back(i);
            const bool seen = same[i] != i;
            modes[i] = seen ? modes[same[i]] : solver_.solve(point);
            if (!point.judged || (seen && out_.points[same[i]].judged)) continue;
            add(i, modes[i].modes);
            if (!out_.in_the_way) add_gain(i);
        }
        if (!out_.in_the_way) doubt();
        if (!out_.in_the_way) pass(modes);
        out_.passes = !out_.in_the_way;
        return std::move(out_);
    }

  private:
    void add(size_t index, const std::vector<Mode>& modes) {
        const auto found = missing(input_, solver_, out_.points, index, modes);
        if (found && (!out_.in_the_way || is_harder(found->mode, out_.in_the_way->mode, input_.require)))
            out_.in_the_way = found;
        for (const ModeKind kind : {ModeKind::differential, ModeKind::common}) {
            const Mode* least = least_damped(modes, kind, input_.require);
            if (least == nullptr) continue;
            const bool common = kind == ModeKind::common;
            if (!common &&
                (!out_.differential_damping || least->damping_ratio() < *out_.differential_damping))
                out_.differential_hz = least->natural_frequency_hz();
            auto& damping = common ? out_.common_damping : out_.differential_damping;
            damping = std::min(damping.value_or(least->damping_ratio()), least->damping_ratio());
            auto& nearest = nearest_[common ? 1 : 0];
            const Mode* of_point = nearest_to_target(modes, kind, input_.require);
            if (!nearest || is_harder(*of_point, nearest->mode, input_.require))
                nearest = FoundMode{index, *of_point, {}};
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
            if (std::abs(damping_margin(found.mode, input_.require)) <= found.damping_uncertainty)
                out_.in_the_way = found;
        }
    }

    /// What is judged in passing: how long a stage lasts hangs on the resistor, too.
    void pass(const std::vector<Modes>& modes) {
        WalkedModes walked;
        for (const size_t i : of_edge_) walked.add(out_.points[i], modes[i]);
        if (!walked.grows_in_passing()) return;
        const Passages passages = walked.pass(input_, walked.follow(input_));
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

    Trial& trial_;
    const Case& input_;
    Edge edge_;
    ModeSolver& solver_;
    JudgedEdge out_;
    std::vector<size_t> of_edge_;
    std::array<std::optional<FoundMode>, 2> nearest_;  // to its target, in the band: differential, common
};

/// With numbers that fail nothing can be said for the value.
JudgedEdge judged_or_failed(Trial& trial, Edge edge) {
    try {
        return EdgeJudge(trial, edge).run();
    } catch (const NumericalError&) {
        JudgedEdge out;
        out.passes = false;
        return out;
    }
}

/// Does the point that was in the way of another value stand in the way of this one, too? Most values that
/// fail are known by it, without the rest of the path. Of a passage no single point says it.
bool still_in_the_way(Trial& trial, const OperatingPoint& hardest) {
    if (!hardest.judged) return false;
    try {
        const OperatingPoint point = with_own_gate_current(trial.input(), hardest);
        return missing(trial.input(), trial.solver(), {point}, 0, trial.modes(point).modes).has_value();
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
std::vector<OperatingPoint> hardest_points(const std::vector<PointResult>& results,
                                           const Requirement& require) {
    std::vector<size_t> order(results.size());
    std::iota(order.begin(), order.end(), size_t{0});
    hardest_first(order, results, [&](const PointResult& r) {
        return least_damping(r.modes.modes, [&](const Mode& m) {
            return m.kind == ModeKind::differential && (grows(m) || rings_in_band(m, require));
        });
    });
    std::vector<OperatingPoint> out;
    out.reserve(order.size());
    for (const size_t i : order) out.push_back(results[i].point);
    return out;
}

void prefer(EdgeSizing& sizing, const Case& input, Edge edge, Method method) {
    const std::vector<Window>& windows = sizing.acceptable.windows;
    sizing.by_samples = !input.spread.empty() && input.n() < no_samples_from;
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

Preferred judged_preferred(const Case& input, Edge edge, const std::vector<Window>& windows, double first,
                           const std::function<bool(const Window&, double)>& has_room, Method method) {
    Trial trial(input, method);
    trial.fit_gate_resistor(edge, first);
    Preferred out{first, judged_or_failed(trial, edge)};
    if (out.judged.passes || !out.judged.in_the_way) return out;
    constexpr int few_tries = 4;
    int tries = 0;
    OperatingPoint hardest = out.judged.points[out.judged.in_the_way->point];
    for (const Window& window : windows) {
        for (double ohm = e24_at_least(std::max(1.01 * first, window.low)); ohm <= window.high;
             ohm = e24_at_least(1.01 * ohm)) {
            if (input.n() >= few_values_from && ++tries > few_tries) return out;
            trial.fit_gate_resistor(edge, ohm);
            if (still_in_the_way(trial, hardest)) continue;
            JudgedEdge judged = judged_or_failed(trial, edge);
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
            acceptable_gate_resistance(solver, hardest_points(points, input.require), edge, options.effort);
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
