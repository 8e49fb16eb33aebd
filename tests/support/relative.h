// A strictly relative comparison: doctest::Approx adds 1 to its scale, so that in SI units 1 nH "equals" 5
// nH.
#pragma once

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <complex>

/// |a − b| / max(|a|, |b|); zero where both are zero.
inline double relative_difference(std::complex<double> a, std::complex<double> b) {
    const double scale = std::max(std::abs(a), std::abs(b));
    return scale == 0 ? 0 : std::abs(a - b) / scale;
}

#define CHECK_RELATIVE(a, b, tolerance)                                \
    do {                                                               \
        const auto value_a_ = (a);                                     \
        const auto value_b_ = (b);                                     \
        INFO(#a " = ", value_a_, ", " #b " = ", value_b_);             \
        CHECK(relative_difference(value_a_, value_b_) <= (tolerance)); \
    } while (false)
