// A mode of a point looked at more closely, on a refined eigenpair of its network.
#pragma once

#include "ringquell/judge.h"
#include "ringquell/network.h"

namespace ringquell::internal {

/// The network in which a mode of this kind lives at a point: a block where positions are alike.
Network network_of(const Case& input, const OperatingPoint& point, bool alike, ModeKind kind);
/// Is the sign of a growing mode certain? Its uncertainty is an estimate of first order, so only growth by
/// several times that much counts.
bool certainly_grows(const FoundMode& mode);
/// Adds uncertainty and the gain's part to a mode, by a refined eigenpair of its network.
FoundMode examine(const Case& input, const OperatingPoint& point, bool alike, const Mode& mode,
                  size_t point_index);

}  // namespace ringquell::internal
