#include "numerics/random_numbers.h"

#include <algorithm>
#include <cmath>

namespace ringquell::internal {

std::array<std::uint32_t, 4> philox(std::array<std::uint32_t, 4> c, std::array<std::uint32_t, 2> k) {
    constexpr std::uint64_t m0 = 0xD2511F53, m1 = 0xCD9E8D57;
    constexpr std::uint32_t w0 = 0x9E3779B9, w1 = 0xBB67AE85;
    constexpr int rounds = 10;
    for (int round = 0; round < rounds; ++round) {
        const std::uint64_t p0 = m0 * c[0], p1 = m1 * c[2];
        c = {static_cast<std::uint32_t>(p1 >> 32) ^ c[1] ^ k[0], static_cast<std::uint32_t>(p1),
             static_cast<std::uint32_t>(p0 >> 32) ^ c[3] ^ k[1], static_cast<std::uint32_t>(p0)};
        k[0] += w0;
        k[1] += w1;
    }
    return c;
}

double uniform_number(const RandomAddress& at) {
    const auto high = static_cast<std::uint32_t>(at.sample >> 32) | (at.attempt << 16);
    const auto words =
        philox({static_cast<std::uint32_t>(at.sample), high, at.stream, at.position},
               {static_cast<std::uint32_t>(at.seed), static_cast<std::uint32_t>(at.seed >> 32)});
    // 52 bits and a half step, so that neither end of the interval is reached by rounding.
    const std::uint64_t bits = (static_cast<std::uint64_t>(words[0]) << 20) | (words[1] >> 12);
    return (static_cast<double>(bits) + 0.5) * 0x1p-52;
}

namespace {

/// e^-x for 0 ≤ x ≤ 40 by its series on x/64, squared six times.
double exp_minus(double x) {
    const double y = -x / 64;
    double sum = 1, term = 1;
    constexpr int terms = 24;
    for (int k = 1; k < terms; ++k) {
        term = term * y / k;
        sum += term;
    }
    for (int k = 0; k < 6; ++k) sum *= sum;
    return sum;
}

double density(double z) {
    constexpr double one_over_root_two_pi = 0.3989422804014327;
    return one_over_root_two_pi * exp_minus(0.5 * z * z);
}

}  // namespace

double normal_probability(double z) {
    constexpr double far = 8;
    if (z <= -far) return 0;
    if (z >= far) return 1;
    // Φ(z) = ½ + φ(z)·(z + z³/3 + z⁵/15 + …): all terms of one sign, so the sum is as good as its parts.
    double term = z, sum = z;
    for (int k = 3; sum + term != sum; k += 2) {
        term = term * z * z / k;
        sum += term;
    }
    return std::clamp(0.5 + density(z) * sum, 0.0, 1.0);
}

double normal_quantile(double p) {
    // Newton's method from within the bracket that bisection gives; Φ is smooth, ten steps of each are
    // plenty.
    double low = -8, high = 8;
    constexpr int halvings = 10;
    for (int i = 0; i < halvings; ++i) {
        const double middle = 0.5 * (low + high);
        (normal_probability(middle) < p ? low : high) = middle;
    }
    double z = 0.5 * (low + high);
    constexpr int most_steps = 10;
    for (int i = 0; i < most_steps; ++i) {
        const double step = (p - normal_probability(z)) / density(z);
        z = std::clamp(z + step, low, high);
        if (std::abs(step) < 1e-16 * (1 + std::abs(z))) break;
    }
    return z;
}

}  // namespace ringquell::internal
