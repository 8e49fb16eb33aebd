// One eigenpair of a network, refined on its pencil.
#pragma once

#include <Eigen/Core>
#include <complex>

#include "ringquell/network.h"

namespace ringquell::internal {

/// One eigenpair of the pencil λ·E·x = A·x, refined on the pencil itself, with left vector y and what
/// rounding can do to it.
struct EigenProbe {
    std::complex<double> eigenvalue;  // rad/s
    Eigen::VectorXcd x, y;            // right and left, natural units; yᴴ·E·x = 1
    double backward_error = 0;        // ‖(A − λE)x‖/((‖A‖ + |λ|‖E‖)‖x‖)
    double uncertainty =
        0;  // of the eigenvalue, rad/s: backward error (at least the unit roundoff) × condition
};
/// Inverse iteration from an approximate eigenvalue.
EigenProbe probe(const Network& network, std::complex<double> eigenvalue);
/// The same from a start of one's own: of several equal eigenvalues it leads to the pair of vectors that `start` drives.
EigenProbe probe_from(const Network& network, std::complex<double> eigenvalue, const Eigen::VectorXcd& start);
/// dλ/dvalue of an element, in SI units: yᴴ(∂A − λ∂E)x/(yᴴEx).
std::complex<double> derivative(const EigenProbe& probe, const Element& element);

}  // namespace ringquell::internal
