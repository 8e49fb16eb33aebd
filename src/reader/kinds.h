// The kinds of devices by name, and what the model does not hold.
#pragma once

#include <string>

#include "ringquell/error.h"

namespace ringquell::internal {

/// An IGBT is refused with the reason.
void refuse_igbt(const std::string& name, const Place& place, const std::string& key);

}  // namespace ringquell::internal
