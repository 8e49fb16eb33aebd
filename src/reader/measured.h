// Values that are worked out while reading: inductances from shapes, beads from measured curves.
#pragma once

#include <string>

#include "reader/document.h"
#include "reader/read_context.h"

namespace ringquell::internal {

/// An inductance in henries: a value, a shape (inductance.h), or a list of either in series.
double read_inductance(const Node& node, const std::string& path, ReadContext& context);

/// A bead: sections, or one section, or a measured curve, fitted over `require.band` or else from 1 MHz to
/// 100 MHz.
Bead read_bead(const Node& node, const std::string& path, ReadContext& context);

}  // namespace ringquell::internal
