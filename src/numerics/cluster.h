// Eigenpairs of λ·E·x = A·x refined by inverse iteration, one or several that lie together. Natural units
// (units.h): λ in 1/ns.
#pragma once

#include <Eigen/SparseCore>
#include <complex>
#include <vector>

#include "numerics/sparse_lu.h"

namespace ringquell::internal {

struct RitzPair {
    std::complex<double> lambda;  // imaginary part >= 0
    Eigen::VectorXcd x;           // unit length
};

/// `count` eigenpairs that lie together at λ, by inverse iteration on as many vectors and a two-sided
/// Rayleigh-Ritz step.
std::vector<RitzPair> refine_cluster(PencilLu& lu, const Eigen::SparseMatrix<double>& e,
                                     const Eigen::SparseMatrix<double>& a, std::complex<double> lambda,
                                     int count);

/// The space of their right vectors alone: orthonormal columns, independent however the eigenvalues lie.
Eigen::MatrixXcd cluster_space(PencilLu& lu, const Eigen::SparseMatrix<double>& e,
                               std::complex<double> lambda, int count);

}  // namespace ringquell::internal
