// Two cases side by side as HTML.
#pragma once

#include <string>

#include "ringquell/compare.h"

namespace ringquell::internal {

/// The id of the script element that holds the numbers; not that of a review, so that none is taken for the other.
inline constexpr const char* compare_data_id = "ringquell-comparison";

std::string compare_html(const Case& a, const Case& b, const Comparison& compared, const std::string& made);

}  // namespace ringquell::internal
