// What text and page say of two cases side by side.
#pragma once

#include <string>
#include <vector>

#include "ringquell/compare.h"

namespace ringquell::internal {

struct ResultRow {
    std::string what, a, b;
};
/// Of all that is told of both what differs.
std::vector<ResultRow> result_rows(const Comparison& comparison);
/// "+0.0123"; what rounding leaves of zero is zero.
std::string signed_damping(double x);
/// The input's key, with the positions at which it differs.
std::string key_text(const ComparedInput& input, const Comparison& comparison);
/// The difference of the least damping, or why it is not parted. Each line ends in a newline.
std::string part_lines(const Comparison& comparison);

}  // namespace ringquell::internal
