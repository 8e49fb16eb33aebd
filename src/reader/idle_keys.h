// Keys that do nothing where they stand.
#pragma once

#include <vector>

#include "ringquell/case.h"

namespace ringquell::internal {

/// One warning for each key with a value that no network of the case holds, whatever the point: what is
/// shorted, open, or belongs to a rail or driver that the case has not. Each says why. Couplings have
/// unused_couplings().
std::vector<Warning> idle_keys(const Case& input);

}  // namespace ringquell::internal
