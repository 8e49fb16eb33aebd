// Positions and other counted things in a sentence.
#pragma once

#include <string>
#include <vector>

namespace ringquell::internal {

/// "1 to 4, 6": numbers that rise.
std::string numbers_text(const std::vector<int>& numbers);

/// " (position 2)", " (positions 1, 3)", " (every position)" where these are all of n; nothing where n is 1.
std::string at_positions(const std::vector<int>& positions, int n);

}  // namespace ringquell::internal
