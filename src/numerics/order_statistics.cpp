#include "numerics/order_statistics.h"

#include <boost/math/distributions/binomial.hpp>

namespace ringquell::internal {

using boost::math::binomial_distribution;

namespace {

/// P(Binomial(n, p) ≥ k), k ≥ 1
double at_least(std::int64_t n, double p, std::int64_t k) {
    if (k > n) return 0;
    return cdf(
        complement(binomial_distribution<double>(static_cast<double>(n), p), static_cast<double>(k - 1)));
}

}  // namespace

double share_lower_bound(std::int64_t samples, std::int64_t passed, double confidence) {
    if (samples == 0 || passed == 0) return 0;
    return binomial_distribution<double>::find_lower_bound_on_p(static_cast<double>(samples),
                                                                static_cast<double>(passed), 1 - confidence);
}

double share_upper_bound(std::int64_t samples, std::int64_t passed, double confidence) {
    if (passed == samples) return 1;
    return binomial_distribution<double>::find_upper_bound_on_p(static_cast<double>(samples),
                                                                static_cast<double>(passed), 1 - confidence);
}

std::int64_t wilks_samples(double coverage, double confidence, int order) {
    std::int64_t low = 0, high = order;
    while (at_least(high, 1 - coverage, order) < confidence) {
        low = high;
        high *= 2;
    }
    while (high - low > 1) {
        const std::int64_t middle = low + (high - low) / 2;
        (at_least(middle, 1 - coverage, order) < confidence ? low : high) = middle;
    }
    return high;
}

std::optional<std::int64_t> quantile_lower_rank(std::int64_t samples, double p, double confidence) {
    std::int64_t low = 0, high = samples + 1;  // low holds, high does not
    while (high - low > 1) {
        const std::int64_t middle = low + (high - low) / 2;
        (at_least(samples, p, middle) >= confidence ? low : high) = middle;
    }
    if (low == 0) return std::nullopt;
    return low;
}

std::optional<std::int64_t> quantile_upper_rank(std::int64_t samples, double p, double confidence) {
    std::int64_t low = 0, high = samples + 1;
    while (high - low > 1) {
        const std::int64_t middle = low + (high - low) / 2;
        (1 - at_least(samples, p, middle) >= confidence ? high : low) = middle;
    }
    if (high > samples) return std::nullopt;
    return high;
}

}  // namespace ringquell::internal
