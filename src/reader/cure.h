// The block `cure:` of a case.
#pragma once

#include "reader/document.h"
#include "reader/read_context.h"

namespace ringquell::internal {

/// `in` is the case but for this block. Throws InputError: what names nothing that a cure may change, a range
/// that is empty, a price below zero.
CureRules read_cure(const Node& node, const Case& in, ReadContext& context);

}  // namespace ringquell::internal
