// Tolerances.
#pragma once

#include <vector>

#include "reader/document.h"
#include "reader/read_context.h"

namespace ringquell::internal {

/// Tolerances of the case read so far, checked against it.
std::vector<Tolerance> read_spread(const Node& node, const Case& in, ReadContext& context);

}  // namespace ringquell::internal
