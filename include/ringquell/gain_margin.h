// By how much the gain of all devices may rise before something grows.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/judge.h"

namespace ringquell {

/// The search ends there.
inline constexpr double largest_gain_factor = 100;

/// The least factor m ≥ 1 at which, at some point judged held, a mode that decides grows, with every
/// transconductance of all dice and positions times m, gds and all else of the point kept, the bias not
/// solved again. Growing already: the greatest m < 1 at which nothing grows.
struct GainMargin {
    struct Onset {
        double factor = 0;
        size_t point = 0;  // index into the points given
        Mode mode;         // as it is just beyond
    };
    bool grows_now = false;
    std::optional<Onset> onset;  // empty: nothing grows up to largest_gain_factor
    /// Where `onset` lies above the band: the same of what grows within or below it, if anything does.
    std::optional<Onset> onset_in_band;
    /// Every factor at which an eigenvalue meets the axis was found at every point. False: factors that
    /// differ by `grid_ratio` were looked at, and the onset refined between two of them, so that growth that
    /// comes and goes between two may have been missed.
    bool complete = true;
    double grid_ratio = 0;
    std::string left_out;  // why it was not sought; empty: it was
};

/// `results` as check() has them; the points that are judged are taken. `solver` is of the same case. Uneven
/// layouts of many positions are left out unless `required`.
GainMargin gain_margin(ModeSolver& solver, const std::vector<PointResult>& results, bool required);

/// The point with all its transconductances times `factor`.
OperatingPoint with_gain(const OperatingPoint& point, double factor);
/// Something that decides grows there.
std::optional<Mode> grows_with_gain(ModeSolver& solver, const OperatingPoint& point, double factor);
/// The same of the judged points of `results`: the first point at which something does.
std::optional<GainMargin::Onset> grows_with_gain(ModeSolver& solver, const std::vector<PointResult>& results,
                                                 double factor);

}  // namespace ringquell
