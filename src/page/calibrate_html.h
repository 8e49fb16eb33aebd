// What records say of a case, as HTML.
#pragma once

#include <string>

#include "report/values.h"
#include "ringquell/calibrate.h"

namespace ringquell::internal {

/// The id of the script element that holds the numbers; not that of a review, so that none is taken for the other.
inline constexpr const char* calibrate_data_id = "ringquell-calibration";

/// What the verb's JSON says, and what the plots show beside it. The case as it stands and with what is settled, as
/// text. Names no file but the bench file and the case.
Json calibrate_page_value(const Case& input, const Calibration& calibration, const std::string& made);

std::string calibrate_html(const Case& input, const Calibration& calibration, const std::string& made);

}  // namespace ringquell::internal
