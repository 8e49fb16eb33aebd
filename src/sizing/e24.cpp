#include "sizing/e24.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace ringquell::internal {

double e24_at_least(double x) {
    constexpr std::array series{1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
                                3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1};
    constexpr double rounding = 1e-12;
    for (int decade = static_cast<int>(std::floor(std::log10(x)));; ++decade) {
        const double scale = std::pow(10.0, decade);
        for (double value : series) {
            // Written so that 4.7 and 47 are those numbers exactly.
            const double candidate = decade >= 0 ? value * scale : value / std::pow(10.0, -decade);
            if (candidate >= x * (1 - rounding)) return std::round(candidate * 1e6) / 1e6;
        }
    }
}

namespace {
constexpr double preferred_margin = 0.30;
}

bool has_margin(const Window& window, double value) {
    constexpr double rounding = 1e-12;
    const double most =
        window.high_bound == Bound::limit ? window.high : (1 - preferred_margin) * window.high;
    return value >= (1 + preferred_margin) * window.low * (1 - rounding) && value <= most;
}

std::optional<double> preferred_value(const std::vector<Window>& windows) {
    constexpr double least_ohm = 1;
    for (const Window& window : windows) {
        const double value = e24_at_least(std::max(least_ohm, (1 + preferred_margin) * window.low));
        if (has_margin(window, value)) return value;
    }
    return std::nullopt;
}

}  // namespace ringquell::internal
