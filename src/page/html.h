// From a page's numbers to its HTML.
#pragma once

#include <string>

#include "page/data.h"

namespace ringquell::internal {

/// The id of the script element that holds the numbers.
inline constexpr const char* page_data_id = "ringquell-data";

std::string page_html(const Case& input, const PageData& data);

}  // namespace ringquell::internal
