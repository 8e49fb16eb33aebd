// What was measured, beside what is computed there.
#pragma once

#include <vector>

#include "ringquell/check.h"

namespace ringquell::internal {

/// λ = −σ + iω with ω = 2π·frequency and σ = 1/decay, or ω·ζ/sqrt(1 − ζ²).
Mode measured_mode(const MeasuredRing& ring);

/// For each ring of the case the index of its point. Throws InputError where the path has no such point.
std::vector<size_t> measured_points(const Case& input, const std::vector<OperatingPoint>& points);

/// Each ring with the mode that is nearest to it at its point.
std::vector<MeasuredMode> measured_modes(const Case& input, const std::vector<size_t>& at,
                                         const std::vector<PointResult>& points);

}  // namespace ringquell::internal
