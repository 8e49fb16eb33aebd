// Which modes of a checked case a probe should look for.
#pragma once

#include <vector>

#include "ringquell/check.h"
#include "ringquell/pickup.h"

namespace ringquell {

/// The worst of each kind where check() found them, and of every other family that grows its fastest growth. Where
/// modes were not followed, of each kind that has no growing one yet.
std::vector<PickedMode> modes_to_probe(const CheckResult& result);

}  // namespace ringquell
