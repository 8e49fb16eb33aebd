// What makes `choose` an order.
#pragma once

#include <vector>

#include "ringquell/choose.h"

namespace ringquell::internal {

/// Ranks, marks and filters the options of one edge; `filtered_out` counts those that go.
void rank_options(std::vector<ChosenOption>& options, const ChooseOptions& limits, int& filtered_out);

}  // namespace ringquell::internal
