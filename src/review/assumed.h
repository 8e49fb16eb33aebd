// How much a verdict owes to what is assumed.
#pragma once

#include <vector>

#include "ringquell/check.h"

namespace ringquell::internal {

/// Of each assumed number the change of the worst differential damping (of one position the common one) that
/// goes with its tolerance, or with a tenth of it: what moves an element alone by its exact slope (that of
/// explain()), what moves the operating point as well by a central difference of the refined eigenvalue, the
/// number moving at all positions together. The greatest first.
std::vector<AssumedValue> weigh_assumed(const Case& input, const CheckResult& result);

}  // namespace ringquell::internal
