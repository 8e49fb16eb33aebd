// The network of a case as a drawing: one position, and what all share.
#pragma once

#include <map>
#include <string>

#include "ringquell/operating_path.h"

namespace ringquell {

/// Share of a mode's energy by element name without a position ("gate_path.inductance"); those named here
/// stand out.
using EnergyShares = std::map<std::string, double>;

/// `&`, `<`, `>` and quotes as HTML and SVG need them.
std::string escaped(const std::string& text);

/// SVG elements (graphic symbols after IEC 60617, from memory) with the values at the point. `position`
/// from 1.
std::string position_drawing(const Case& input, const OperatingPoint& point, int position,
                             const EnergyShares& energy);
/// Driver, power loop, load and rails.
std::string shared_drawing(const Case& input, const OperatingPoint& point, const EnergyShares& energy);

}  // namespace ringquell
