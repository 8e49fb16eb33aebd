// Random numbers by count, and the normal distribution.
#include "numerics/random_numbers.h"

#include <doctest/doctest.h>

#include <array>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <cstdint>

using namespace ringquell::internal;

TEST_CASE("Philox gives the words of its authors' test vectors (from memory)") {
    using Words = std::array<std::uint32_t, 4>;
    CHECK(philox({0, 0, 0, 0}, {0, 0}) == Words{0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8});
    const std::uint32_t ones = 0xffffffff;
    CHECK(philox({ones, ones, ones, ones}, {ones, ones}) ==
          Words{0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd});
    CHECK(philox({0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344}, {0xa4093822, 0x299f31d0}) ==
          Words{0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1});
}

TEST_CASE("the normal distribution and its inverse are Boost.Math's") {
    const boost::math::normal normal;
    for (double z = -6; z <= 6; z += 0.37) CHECK(std::abs(normal_probability(z) - cdf(normal, z)) < 1e-14);
    for (double p = 0.001; p < 1; p += 0.0173)
        CHECK(std::abs(normal_quantile(p) - quantile(normal, p)) < 1e-12);
}
