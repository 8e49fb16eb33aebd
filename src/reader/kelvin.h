// Where the gate drivers' currents return: which positions have a Kelvin path, and what is doubtful about it.
#pragma once

#include "reader/document.h"
#include "reader/read_context.h"

namespace ringquell::internal {

/// Gives every position that a driver returns through a Kelvin path (a wire where the key is absent).
/// InputError where nothing says where a driver's return goes.
void join_kelvin_pins(Case& read, const Node& root, ReadContext& context);

}  // namespace ringquell::internal
