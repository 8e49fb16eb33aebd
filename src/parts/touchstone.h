// Touchstone files of one port.
#pragma once

#include <string>
#include <vector>

#include "ringquell/impedance_file.h"

namespace ringquell::internal {

/// Touchstone 1.1 and 2.0 (specification of the IBIS Open Forum), one port. The option line's fields come in
/// any order and case, defaults GHz S MA R 50. S: Z = R·(1 + S)/(1 − S). Version 1 holds Z and Y normalised
/// to R, version 2 in ohm and siemens; [Reference] of version 2 takes the place of R. Without an option line
/// the units are unknown: an error. `file` is for messages.
std::vector<ImpedancePoint> parse_touchstone(const std::string& text, const std::string& file,
                                             std::vector<Warning>* warnings = nullptr);

}  // namespace ringquell::internal
