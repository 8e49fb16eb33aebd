// The gate resistor of one edge: its windows, the value to fit, and the verdict with that value fitted.
#pragma once

#include <functional>
#include <optional>
#include <vector>

#include "ringquell/check.h"

namespace ringquell::internal {

/// One edge of a case, judged as `check` judges it: the path walked, every judged point, all modes, and what
/// is judged in passing.
struct JudgedEdge {
    std::vector<OperatingPoint> points;  // the whole path
    bool passes = true;
    /// The mode that falls shortest of what is asked, or is within its uncertainty of it; where a passage
    /// fails, the least damped mode of its stages.
    std::optional<FoundMode> in_the_way;
    std::optional<double> differential_damping, common_damping;  // least in the band
    double differential_hz = 0;  // natural frequency of that differential mode
};

/// The preferred value, and the edge with it.
struct Preferred {
    double ohm = 0;
    JudgedEdge judged;
};

/// Judges `first` as `--set` would: with the bias, the points and the common modes that it makes. If it
/// fails, the next larger E24 values in the windows for which `has_room` says yes are tried; if all fail,
/// `first` with its mode in the way.
Preferred judged_preferred(const Case& input, Edge edge, const std::vector<Window>& windows, double first,
                           const std::function<bool(const Window&, double)>& has_room,
                           Method method = Method::automatic);

/// Sizes one edge from the judged points of a check. Numbers that fail on the way make the answer incomplete
/// and say so; they never throw.
EdgeSizing size_edge(ModeSolver& solver, const std::vector<PointResult>& points, Edge edge,
                     const CheckOptions& options);

}  // namespace ringquell::internal
