// What a cure may change, by key: shared by who reads `cure:` and who seeks the cure.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

/// What a change takes of those who make it.
enum class CureEffort {
    value,   // another value on the bill of material
    part,    // a part more at every position
    layout,  // copper that moves
    driver,  // another driver, module or package
};
inline constexpr const char* effort_names[] = {"value", "part", "layout", "driver"};
/// Common practice, no source.
inline constexpr double usual_effort[] = {1, 3, 10, 30};

/// Does the pattern of `cure:` name the key? (case_cure.h)
bool matches(std::string_view pattern, std::string_view key);

/// Changes that are offered whether the case has the part or not.
struct OfferedKey {
    const char* key;
    Dimension dimension;
};
const std::vector<OfferedKey>& offered_keys();

/// Every key that patterns may name: what is offered, and the numbers of the board.
std::vector<std::string> cure_keys(const Case& input);
/// What kind of number the key is; empty where it is none that a cure may change: a number of the devices'
/// dice, of the operation or of the requirement.
std::optional<Dimension> cure_dimension(const Case& input, const std::string& key);

/// The effort of a change of the key that by itself takes `usual`: what `price` says of the key, else of the
/// kind of effort.
double effort_of(const CureRules& rules, std::string_view key, CureEffort usual);

}  // namespace ringquell::internal
