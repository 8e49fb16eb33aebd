// From a Case back to a case file.
#pragma once

#include <string>

#include "ringquell/case.h"

namespace ringquell {

/// A complete case file in base units; read again it gives an equal case, to the last bit. What position 1
/// has is the base, and `overrides` hold what differs from it. Curves stand in the text, part files are not
/// referred to.
std::string write_case(const Case& in);

}  // namespace ringquell
