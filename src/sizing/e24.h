// Preferred values of resistors.
#pragma once

#include <optional>
#include <vector>

#include "ringquell/acceptable.h"

namespace ringquell::internal {

/// The smallest IEC 60063 E24 value with a margin of 30 % to both ends of a window and at least 1 ohm (the
/// limit asks for no margin).
std::optional<double> preferred_value(const std::vector<Window>& windows);
/// Has the value that margin to both ends of the window?
bool has_margin(const Window& window, double value);
/// The E24 value at or above x.
double e24_at_least(double x);

}  // namespace ringquell::internal
