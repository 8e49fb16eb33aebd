#include "base/nearest.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

namespace ringquell::internal {
namespace {

size_t edit_distance(std::string_view a, std::string_view b) {
    std::vector<std::vector<size_t>> d(a.size() + 1, std::vector<size_t>(b.size() + 1));
    for (size_t i = 0; i <= a.size(); ++i) d[i][0] = i;
    for (size_t j = 0; j <= b.size(); ++j) d[0][j] = j;
    for (size_t i = 1; i <= a.size(); ++i)
        for (size_t j = 1; j <= b.size(); ++j) {
            d[i][j] = std::min(
                {d[i - 1][j] + 1, d[i][j - 1] + 1, d[i - 1][j - 1] + (a[i - 1] == b[j - 1] ? 0u : 1u)});
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                d[i][j] = std::min(d[i][j], d[i - 2][j - 2] + 1);
        }
    return d[a.size()][b.size()];
}

}  // namespace

std::string suggestion_or(std::string_view found, const std::vector<std::string>& valid,
                          const std::string& otherwise) {
    constexpr size_t longest_worth_comparing = 100;
    const std::string* best = nullptr;
    size_t best_distance = 0;
    if (found.size() <= longest_worth_comparing)
        for (const std::string& name : valid) {
            const size_t distance = edit_distance(found, name);
            // A third of the letters, one at least: beyond that the suggestion would be a guess.
            if (distance > std::max<size_t>(1, name.size() / 3)) continue;
            if (!best || distance < best_distance) {
                best = &name;
                best_distance = distance;
            }
        }
    if (best) return fmt::format("; did you mean `{}`?", *best);
    return otherwise;
}

std::string suggestion(std::string_view found, const std::vector<std::string>& valid) {
    if (valid.empty()) return {};
    return suggestion_or(found, valid, fmt::format("; valid here: {}", fmt::join(valid, ", ")));
}

}  // namespace ringquell::internal
