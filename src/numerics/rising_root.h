// The zero of a rising function of one variable.
#pragma once

#include <algorithm>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <cstdint>
#include <limits>

namespace ringquell::internal {

/// Zero of a non-decreasing f within [low, high] to the last bits, or below 1 mV (f's argument is a voltage)
/// to 1e-18 V: TOMS 748 (Alefeld, Potra & Shi, ACM Trans. Math. Softw. 21 (1995) 327). Where f does not
/// change sign there: the end that is nearest to a zero.
template <class F>
double rising_root(F&& f, double low, double high) {
    const double at_low = f(low), at_high = f(high);
    if (at_low >= 0) return low;
    if (at_high <= 0) return high;
    constexpr double few_ulp = 4 * std::numeric_limits<double>::epsilon();
    constexpr double least_scale_v = 1e-3;
    const auto close = [](double a, double b) {
        return b - a <= few_ulp * std::max({std::abs(a), std::abs(b), least_scale_v});
    };
    std::uintmax_t evaluations = 200;
    const auto [a, b] = boost::math::tools::toms748_solve(f, low, high, at_low, at_high, close, evaluations);
    return 0.5 * (a + b);
}

}  // namespace ringquell::internal
