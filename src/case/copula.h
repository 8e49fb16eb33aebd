// Normal variables of which each is given by some before it: the regressions that coefficients of correlation ask for.
#pragma once

#include <cstddef>
#include <map>
#include <vector>

namespace ringquell::internal {

/// A standard normal variable as a sum of independent ones: the factor of each, by its number. The squares of the
/// factors sum to one.
using Loadings = std::map<size_t, double>;

/// The correlation of two such variables.
double correlation(const Loadings& a, const Loadings& b);

/// z = Σ weights[i]·given[i] + √variance·e, where e is independent of all that is given.
struct Regression {
    std::vector<double> weights;
    /// What is left given the others; not above zero where no joint distribution has these coefficients.
    double variance = 1;
    /// The first of the given ones that those before it leave nothing of; where there is one, nothing else is set.
    int moves_with_others = -1;
};

/// Of a standard normal variable that has with given[i] the correlation coefficients[i].
Regression regression(const std::vector<const Loadings*>& given, const std::vector<double>& coefficients);

}  // namespace ringquell::internal
