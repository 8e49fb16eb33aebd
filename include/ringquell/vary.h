// Acceptable values of any number of the case: a layout budget, and what each element alone would have to be.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/acceptable.h"
#include "ringquell/quantity.h"

namespace ringquell {

struct VaryOptions {
    /// SI; defaults: 0 (−0.99 for a coefficient, minus the highest for a mutual inductance) and ten times the
    /// value now (0.99).
    std::optional<double> from, to;
    /// Judge common modes, too. Absent: only for numbers of shared parts, which differential modes of alike
    /// positions do not see.
    std::optional<bool> common_too;
};

struct Varied {
    std::vector<std::string> keys;  // moved together, in proportion to the first
    Dimension dimension = Dimension::number;
    double now = 0;
    double from = 0, to = 0;
    bool common_too = false;
    Acceptable acceptable;
};

/// The windows of the first key's value in [from, to] for which the modes meet the requirement at every
/// judged point. A value that the network cannot have, as an inductance too small for what is coupled to it,
/// ends the range: Varied::from and to are what was searched. Alike positions and one key that enters at rank
/// one: complete. Throws InputError where a key names no number of the case.
Varied acceptable_values(const Case& input, const std::vector<std::string>& keys,
                         const VaryOptions& options = {});

/// Every number of the layout: inductances and resistances of the paths, rails, loops and snubbers, in the
/// order of the case.
std::vector<std::string> layout_keys(const Case& input);

}  // namespace ringquell
