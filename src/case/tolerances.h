// What the keys of tolerances name, and the tolerances that `spread: typical` stands for.
#pragma once

#include <string>
#include <vector>

#include "ringquell/case.h"

namespace ringquell::internal {

/// What a tolerance's key names: a number, or a bead's curve (every section's resistance and inductance).
/// Value is double, or const double where the case is only looked at.
template <class Value>
struct VaryingNumberOf {
    std::vector<Value*> values;
    bool may_be_negative = false;
    bool curve = false;
};
using VaryingNumber = VaryingNumberOf<double>;
using ConstVaryingNumber = VaryingNumberOf<const double>;

/// At `position` (from 1; 0: everywhere), see find_number(). Throws InputError.
VaryingNumber varying_number(Case& in, const std::string& key, int position);
ConstVaryingNumber varying_number(const Case& in, const std::string& key, int position);

/// The documented default set (docs/spread.md): common practice, without a source. Of the keys that this case
/// has.
std::vector<Tolerance> typical_spread(const Case& input);

}  // namespace ringquell::internal
