// What a case says of its cure: what may change, how far, and what a change costs.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/error.h"

namespace ringquell {

/// SI; an end that is absent is the usual one (cure.h).
struct CureRange {
    std::optional<double> from, to;
    bool operator==(const CureRange&) const = default;
};

/// A pattern is a key of the case, in which `*` stands for any characters, or what stands before a dot of one:
/// `snubber` is the snubber's capacitance and resistance. `package.gate` is short for `device.package.gate`.
struct CureRules {
    std::vector<std::string> fixed;        // patterns of what does not change
    std::map<std::string, CureRange> may;  // by key: what may change besides the usual, and how far
    std::map<std::string, double> price;   // `value`, `part`, `layout`, `driver`, or a pattern: the effort
    Origin place;
    bool operator==(const CureRules&) const = default;
    bool empty() const { return fixed.empty() && may.empty() && price.empty(); }
};

}  // namespace ringquell
