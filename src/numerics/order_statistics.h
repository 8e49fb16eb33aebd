// How sure a count of samples makes one: bounds of a share, and of quantiles by order statistics.
#pragma once

#include <cstdint>
#include <optional>

namespace ringquell::internal {

/// One-sided lower bound, at `confidence`, of the share from which `passed` of `samples` independent samples
/// passed: the share p at which P(at least `passed` pass) = 1 − confidence (C. J. Clopper, E. S. Pearson,
/// Biometrika 26, 1934). 0 where none passed.
double share_lower_bound(std::int64_t samples, std::int64_t passed, double confidence);
/// One-sided upper bound: the share at which P(at most `passed` pass) = 1 − confidence. 1 where all passed.
double share_upper_bound(std::int64_t samples, std::int64_t passed, double confidence);

/// The least number of samples whose `order`-th smallest value is, at `confidence`, a lower tolerance bound
/// of the share `coverage` of the population: P(Binomial(n, 1 − coverage) ≥ order) ≥ confidence (S. S. Wilks,
/// Ann. Math. Stat. 12, 1941, 91).
std::int64_t wilks_samples(double coverage, double confidence, int order = 1);

/// The largest rank r, from 1, whose order statistic x(r) is, at `confidence`, not above the p-quantile:
/// P(Binomial(n, p) ≥ r) ≥ confidence. Empty where there are too few samples.
std::optional<std::int64_t> quantile_lower_rank(std::int64_t samples, double p, double confidence);
/// The least rank s whose order statistic is, at `confidence`, not below the p-quantile: P(Binomial(n, p) <
/// s) ≥ confidence.
std::optional<std::int64_t> quantile_upper_rank(std::int64_t samples, double p, double confidence);

}  // namespace ringquell::internal
