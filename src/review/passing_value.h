// How far one number alone would have to move for the case to pass.
#pragma once

#include <optional>
#include <string>

#include "ringquell/check.h"

namespace ringquell::internal {

/// The value nearest to the present one, of one number alone, at which the whole case passes; it passes there
/// and fails just short of it. Searched from a tenth (and zero) to ten times the value now. Empty: not alone.
/// `result`: of the case as it is.
std::optional<double> passing_value(const Case& input, const std::string& key, const CheckResult& result);

}  // namespace ringquell::internal
