// Operating points, the walked path, and what is required.
#pragma once

#include "reader/document.h"
#include "reader/positions.h"
#include "reader/read_context.h"

namespace ringquell::internal {

Operation read_operation(const Node& node, const DeviceTrees& trees, ReadContext& context);
Requirement read_requirement(const Node& node, ReadContext& context);
/// Every name under `require.judge_held` must be a stage that this case walks.
void check_judge_held(const Node& require, const Case& read);
/// Whether the path has the points is known when it is walked.
std::vector<MeasuredRing> read_measured_rings(const Node& list, ReadContext& context);
/// Fixed and curve channels that would share a current, and what a walked path needs.
void check_channels(const Case& read);

}  // namespace ringquell::internal
