// Couplings that no judged network has.
#pragma once

#include <vector>

#include "ringquell/check.h"

namespace ringquell::internal {

/// One warning for each coupling of which no network of a judged point has both inductances, with the reason.
/// What one edge or one state of the complementary device alone uses is nothing to warn of.
std::vector<Warning> unused_couplings(const Case& input, const std::vector<PointResult>& points);

}  // namespace ringquell::internal
