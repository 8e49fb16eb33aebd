// ln det(λE − A) at eight λ at once, one in each lane of the SIMD registers.
#pragma once

#include <complex>
#include <map>
#include <vector>

#include "numerics/sparse_lu.h"

namespace ringquell::internal {

/// Sparse elimination without exchanges, in the order that PencilLu found good near the same |λ|: what a step
/// costs in memory and index arithmetic is then shared by eight numbers, and one determinant costs about a
/// tenth of a factorisation by KLU. There is no test of the pivots' growth here: the caller takes differences
/// of ln det over 1e-6 of λ, which magnify an error a million times, and refines until they are smooth.
class BatchedDeterminant {
  public:
    static constexpr int lanes = 8;
    explicit BatchedDeterminant(PencilLu& lu) : lu_(lu) {}

    /// ln det at each λ (natural units, none zero), imaginary part in (−π, π]; not finite where a pivot is
    /// zero.
    std::vector<std::complex<double>> log_determinants(const std::vector<std::complex<double>>& lambdas);
    /// Determinants taken so far.
    long count() const { return count_; }
    /// The pencil has changed.
    void clear() { plans_.clear(); }

  private:
    const PencilLu::Plan& plan_near(std::complex<double> lambda);

    PencilLu& lu_;
    std::map<int, PencilLu::Plan> plans_;  // by |λ|, two decades each
    std::vector<double> columns_, work_;
    long count_ = 0;
};

}  // namespace ringquell::internal
