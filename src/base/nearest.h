// The valid name nearest to a mistyped one.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace ringquell::internal {

/// `; did you mean `x`?` for the nearest of `valid` by edit distance (swapped neighbours count once), or,
/// where nothing is near, `; valid here: a, b, c`. Empty where `valid` is empty.
std::string suggestion(std::string_view found, const std::vector<std::string>& valid);
/// The same, but `otherwise` where nothing is near.
std::string suggestion_or(std::string_view found, const std::vector<std::string>& valid,
                          const std::string& otherwise);

}  // namespace ringquell::internal
