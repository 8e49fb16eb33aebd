// What a number of a case does to a mode, by solving anew.
#pragma once

#include <algorithm>
#include <complex>
#include <string>

#include "ringquell/judge.h"
#include "ringquell/modes.h"
#include "ringquell/numbers.h"
#include "ringquell/operating_path.h"

/// The damping at the point of `found` of the mode that its mode becomes when a number is multiplied: with all
/// modes solved anew.
inline double damping_with(const ringquell::Case& input, const std::string& key, double factor,
                           const ringquell::FoundMode& found) {
    using namespace ringquell;
    Case changed = input;
    give_points_own_devices(changed, key);
    for (double* v : find_number(changed, key).values) *v *= factor;
    const OperatingPath path = operating_path(changed);
    ModeSolver solver(changed);
    const auto modes = solver.solve(path.points[found.point]).modes;
    return std::min_element(modes.begin(), modes.end(),
                            [&](const Mode& a, const Mode& b) {
                                return std::abs(a.eigenvalue - found.mode.eigenvalue) <
                                       std::abs(b.eigenvalue - found.mode.eigenvalue);
                            })
        ->damping_ratio();
}
