// What is legal but doubtful: values a slip of the unit away from what boards have, and parts that are left
// out.
#pragma once

#include <vector>

#include "ringquell/case.h"

namespace ringquell::internal {

std::vector<Warning> plausibility_warnings(const Case& read);

}  // namespace ringquell::internal
