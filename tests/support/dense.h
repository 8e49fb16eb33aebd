// Dense matrices by Eigen, as several tests need them; compiled once (dense.cpp), since a test file that holds a decomposition
// takes the compiler a minute.
#pragma once

#include <Eigen/Core>
#include <complex>

namespace dense {

Eigen::VectorXcd eigenvalues(const Eigen::MatrixXd& a);

/// Of a symmetric one, rising.
Eigen::VectorXd symmetric_eigenvalues(const Eigen::MatrixXd& a);

/// Falling.
Eigen::VectorXd singular_values(const Eigen::MatrixXcd& a);

/// a⁻¹·b, and log₁₀|det a|, by elimination with exchanges of rows and columns.
Eigen::MatrixXcd solve(const Eigen::MatrixXcd& a, const Eigen::MatrixXcd& b);
double log10_determinant(const Eigen::MatrixXcd& a);

/// The orthogonal factor of a = Q·R.
Eigen::MatrixXd orthogonal(const Eigen::MatrixXd& a);

using Extended = long double;
using ExtendedMatrix = Eigen::Matrix<Extended, Eigen::Dynamic, Eigen::Dynamic>;
/// Those of (a − shift·e)⁻¹·e, 1/(λ − shift) for each λ of λ·e·x = a·x.
Eigen::Matrix<std::complex<Extended>, Eigen::Dynamic, 1> inverted_eigenvalues(const ExtendedMatrix& e,
                                                                              const ExtendedMatrix& a,
                                                                              Extended shift);

}  // namespace dense
