// How alike the positions move in a mode.
#pragma once

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <complex>
#include <vector>

#include "ringquell/network.h"

namespace ringquell {

/// Common share of an eigenvector x (all unknowns of the network, any scale): |Σ x_i|²/(N·Σ|x_i|²), x_i the
/// list of √C·v and √L·i of position i, N = `positions`. 0/0 is 1.
inline double common_share(const Network& network, const Eigen::VectorXcd& x, int positions) {
    std::vector<std::complex<double>> sum(static_cast<size_t>(network.slots));
    double squares = 0;
    for (const Element& e : network.elements) {
        if (e.position == 0 || (e.kind != ElementKind::capacitance && e.kind != ElementKind::inductance))
            continue;
        std::complex<double> amplitude = 0;
        for (const auto& [i, s] : e.right) amplitude += s * x[i];
        amplitude *= std::sqrt(e.value);
        sum[static_cast<size_t>(e.slot)] += amplitude;
        squares += std::norm(amplitude);
    }
    double of_sum = 0;
    for (const auto& s : sum) of_sum += std::norm(s);
    return squares > 0 ? std::min(1.0, of_sum / (positions * squares)) : 1;
}

}  // namespace ringquell
