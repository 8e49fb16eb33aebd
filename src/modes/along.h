// The quantity that an incidence takes from a vector of unknowns.
#pragma once

#include <Eigen/Core>
#include <complex>

#include "ringquell/network.h"

namespace ringquell::internal {

/// rᵀ·x: a voltage between two nodes, or a current.
inline std::complex<double> along(const Incidence& r, const Eigen::VectorXcd& x) {
    std::complex<double> sum = 0;
    for (const auto& [i, sign] : r) sum += sign * x[i];
    return sum;
}

}  // namespace ringquell::internal
