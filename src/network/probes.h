// Private to the network stage: what is hung on the board while something is measured.
#pragma once

#include "network/builder.h"

namespace ringquell::internal {

/// The case's probes, after all else is placed. `whole`: all positions are there; a block has no nodes of the
/// others, and takes probes of nothing alone.
void add_probes(NetworkBuilder& builder, bool whole);

}  // namespace ringquell::internal
