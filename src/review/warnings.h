// What a practitioner would remark on a case and its result.
#pragma once

#include <vector>

#include "ringquell/check.h"

namespace ringquell::internal {

/// From the case alone: couplings and chokes the wrong way round, gate-source capacitance without resistance,
/// three leads.
std::vector<Warning> layout_warnings(const Case& input);
/// From the result: a failing mode above 300 MHz whose loop has no loss; a fitted value close to the end of
/// its window.
std::vector<Warning> result_warnings(const Case& input, const CheckResult& result);

}  // namespace ringquell::internal
