// Numbers of a case by their keys, for sizing, sensitivity and tolerances.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/quantity.h"

namespace ringquell {

struct Number {
    std::string key;
    Dimension dimension = Dimension::number;
    bool may_be_negative = false;
    std::vector<double*> values;  // into the case, SI; valid as long as its positions, points and blocks stay
};

/// The number that a key names: `gate_path.inductance` at all positions, `gate_path[2].inductance` at one,
/// `gate_path.resistor` at both edges, `buses.drain.inductance` of all segments, `buses.drain[2].inductance`
/// of one, `operation.points[1].vds`, `couplings[1].coefficient`. A device's number is also the one of the
/// points' devices; to change one position alone, a point whose devices are alike gets N. Throws InputError:
/// unknown key (with the nearest), index out of range, a block that the case has not.
Number find_number(Case& in, std::string_view key);

/// Every key of a number that this case has, those of positions without index.
std::vector<std::string> number_keys(const Case& in);

}  // namespace ringquell
