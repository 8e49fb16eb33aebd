// The tables of a page that need no script, as HTML.
#pragma once

#include <string>
#include <vector>

#include "page/drawing.h"
#include "ringquell/check.h"
#include "ringquell/network_echo.h"

namespace ringquell::internal {

std::string worst_table(const CheckResult& result);
/// Empty where no gate resistor was sized.
std::string sizing_table(const CheckResult& result);
/// Measured rings beside the nearest modes of their points; empty where the case has none.
std::string measured_table(const CheckResult& result);
/// Every number that is not the same at all positions, in groups of alike ones.
std::string differences(const NetworkEcho& echo);
/// Loop and mutual inductances.
std::string loops(const NetworkEcho& echo);

/// What adds up to 100 % with the percentages in the drawings, as sentences: couplings, what only other
/// positions have, symbols of less than half a per cent. Empty without `energy`.
std::string beside_drawings(const Case& input, const EnergyShares& energy, const ShownEnergy& shown);

}  // namespace ringquell::internal
