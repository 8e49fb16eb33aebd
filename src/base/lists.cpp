#include "base/lists.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace ringquell::internal {

std::string numbers_text(const std::vector<int>& numbers) {
    std::string out;
    for (size_t k = 0; k < numbers.size();) {
        size_t end = k;
        while (end + 1 < numbers.size() && numbers[end + 1] == numbers[end] + 1) ++end;
        out += fmt::format("{}{}", out.empty() ? "" : ", ", numbers[k]);
        if (end > k) out += fmt::format("{}{}", end > k + 1 ? " to " : ", ", numbers[end]);
        k = end + 1;
    }
    return out;
}

std::string at_positions(const std::vector<int>& positions, int n) {
    if (static_cast<int>(positions.size()) == n) return n == 1 ? "" : " (every position)";
    return fmt::format(" (position{} {})", positions.size() > 1 ? "s" : "", fmt::join(positions, ", "));
}

}  // namespace ringquell::internal
