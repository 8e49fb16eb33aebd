// A tree as YAML text.
#pragma once

#include <string>

#include "reader/document.h"

namespace ringquell::internal {

/// The lines of a map, keys that need it in quotes; what is short stands on one line.
std::string yaml_text(const Node& map);

}  // namespace ringquell::internal
