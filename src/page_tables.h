// The tables of a page that need no script, as HTML.
#pragma once

#include <string>
#include <vector>

#include "ringquell/check.h"
#include "ringquell/network_echo.h"

namespace ringquell {

/// "1 to 4, 6": numbers that rise.
std::string numbers_text(const std::vector<int>& numbers);
std::string worst_table(const CheckResult& result);
/// Empty where no gate resistor was sized.
std::string sizing_table(const CheckResult& result);
/// Every number that is not the same at all positions, in groups of alike ones.
std::string differences(const NetworkEcho& echo);
/// Loop and mutual inductances.
std::string loops(const NetworkEcho& echo);

}  // namespace ringquell
