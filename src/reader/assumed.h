// `assumed`: the numbers of a case that nobody has stated or measured.
#pragma once

#include <string>
#include <vector>

#include "reader/document.h"
#include "ringquell/case.h"

namespace ringquell::internal {

/// Each must name a number of the case. One that a setting has taken away (`--set driver.bypass=`) is left out.
std::vector<Assumed> read_assumed(const Node& list, const Case& in, const std::vector<std::string>& settings);

}  // namespace ringquell::internal
