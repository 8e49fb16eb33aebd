// Bounds of shares and quantiles: published values, and that they cover as often as they say.
#include "numerics/order_statistics.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <vector>

#include "numerics/random_numbers.h"
#include "support/relative.h"

using namespace ringquell::internal;

TEST_CASE("59 samples bound 95/95, and the Clopper–Pearson bound covers in repeated small runs") {
    // Orders 1 to 3: Wilks, Ann. Math. Stat. 12 (1941) 91; 59 read, the others from memory.
    CHECK(wilks_samples(0.95, 0.95) == 59);
    CHECK(wilks_samples(0.95, 0.95, 2) == 93);
    CHECK(wilks_samples(0.95, 0.95, 3) == 124);
    // 3 of 15, one-sided: SciPy, docstring of binomtest; 682 of 925, two-sided 95 %: R, binom.test (from
    // memory).
    CHECK_RELATIVE(share_lower_bound(15, 3, 0.95), 0.0568468675902, 1e-11);
    CHECK_RELATIVE(share_lower_bound(925, 682, 0.975), 0.7076683, 1e-7);
    CHECK_RELATIVE(share_upper_bound(925, 682, 0.975), 0.7654066, 1e-7);
    // All of n passed: the bound is 0.05^(1/n).
    CHECK_RELATIVE(share_lower_bound(59, 59, 0.95), std::pow(0.05, 1.0 / 59), 1e-12);
    CHECK(share_lower_bound(20, 0, 0.95) == 0);
    constexpr int runs = 2000, n = 40;
    constexpr double p = 0.9;
    int covered = 0;
    for (int run = 0; run < runs; ++run) {
        int passed = 0;
        for (int k = 0; k < n; ++k)
            passed += uniform_number(
                          {3, static_cast<std::uint64_t>(run), 0, 77, static_cast<std::uint32_t>(k)}) < p;
        covered += share_lower_bound(n, passed, 0.95) <= p;
    }
    CHECK(covered >= 0.95 * runs - 3 * std::sqrt(runs * 0.05 * 0.95));
}

TEST_CASE("quantile bounds by order statistics hold as often as they say") {
    constexpr int runs = 1500, n = 200;
    int low = 0, high = 0;
    const auto lower = quantile_lower_rank(n, 0.05, 0.95), upper = quantile_upper_rank(n, 0.05, 0.95);
    REQUIRE(lower);
    REQUIRE(upper);
    for (int run = 0; run < runs; ++run) {
        std::vector<double> x;
        for (int k = 0; k < n; ++k)
            x.push_back(
                uniform_number({4, static_cast<std::uint64_t>(run), 0, 78, static_cast<std::uint32_t>(k)}));
        std::sort(x.begin(), x.end());
        low += x[static_cast<size_t>(*lower) - 1] <= 0.05;
        high += x[static_cast<size_t>(*upper) - 1] >= 0.05;
    }
    CHECK(low >= 0.95 * runs - 3 * std::sqrt(runs * 0.05 * 0.95));
    CHECK(high >= 0.95 * runs - 3 * std::sqrt(runs * 0.05 * 0.95));
    CHECK(!quantile_lower_rank(20, 0.05, 0.95));
}
