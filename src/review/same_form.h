// Two cases brought to one form, so that a case can lie between them.
#pragma once

#include <string>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

/// A number of which the two differ, at every place that its key names.
struct DifferentNumber {
    std::string key;
    Dimension dimension = Dimension::number;
    std::vector<double> a, b;
};

/// What differs and is no number; as written, empty where a case lacks it.
struct DifferentText {
    std::string key, a, b;
};

struct SameForm {
    /// With what one of them lacks where it does nothing, and couplings in one order.
    Case a, b;
    std::vector<DifferentNumber> numbers;
    /// What has no way between; empty: the numbers are all.
    std::vector<DifferentText> others;
};

/// Titles, tolerances, file names and what is assumed are no differences.
SameForm same_form(const Case& a, const Case& b);

}  // namespace ringquell::internal
