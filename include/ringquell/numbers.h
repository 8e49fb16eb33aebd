// Numbers of a case by their keys, for sizing, sensitivity and tolerances.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/quantity.h"

namespace ringquell {

/// A number of a case; Value is double, or const double where the case is only looked at.
template <class Value>
struct NumberOf {
    std::string key;
    Dimension dimension = Dimension::number;
    bool may_be_negative = false;
    /// Into the case, SI; valid as long as its positions, points and blocks stay.
    std::vector<Value*> values;
};
using Number = NumberOf<double>;
using ConstNumber = NumberOf<const double>;

/// The number that a key names: `gate_path.inductance` at all positions, `gate_path[2].inductance` at one,
/// `gate_path.resistor` at both edges, `buses.drain.inductance` of all segments, `buses.drain[2].inductance`
/// of one, `operation.points[1].vds`, `couplings[1].coefficient`. A device's number is also the one of the
/// points' devices; where a point has one device for all positions, every position's number is that one's
/// (see give_points_own_devices). Throws InputError: unknown key (with the nearest), index out of range, a
/// block that the case has not.
Number find_number(Case& in, std::string_view key);
ConstNumber find_number(const Case& in, std::string_view key);

/// Before a number of one position is changed: where the key is one of a single device, `device[2]...`, a
/// point that has one device for all positions gets N. What was found in its devices before is void.
void give_points_own_devices(Case& in, std::string_view key);

/// Every key of a number that this case has, those of positions without index.
std::vector<std::string> number_keys(const Case& in);

}  // namespace ringquell
