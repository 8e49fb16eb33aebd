// Couplings between named inductances.
#pragma once

#include <vector>

#include "reader/document.h"
#include "reader/read_context.h"

namespace ringquell::internal {

std::vector<Coupling> read_couplings(const Node& list, ReadContext& context, const Driver& driver,
                                     const Buses& buses);

}  // namespace ringquell::internal
