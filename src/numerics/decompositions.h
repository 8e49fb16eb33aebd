// Eigen's dense decompositions, and products with complex numbers, behind plain functions. Each is compiled once, in a
// file of its own in decompositions/: a file that holds several takes half a minute of the compiler and a gigabyte.
#pragma once

#include <Eigen/Core>

namespace ringquell::internal {

/// Column k of `vectors` is a unit eigenvector of values[k].
struct Eigenpairs {
    Eigen::VectorXcd values;
    Eigen::MatrixXcd vectors;
};
/// Throws NumericalError where the QR iteration does not converge.
Eigenpairs eigenpairs(const Eigen::MatrixXd& a);
Eigenpairs eigenpairs(const Eigen::MatrixXcd& a);

/// The same of a Hermitian matrix: real eigenvalues, rising, and orthonormal vectors.
struct HermitianEigenpairs {
    Eigen::VectorXd values;
    Eigen::MatrixXcd vectors;
};
HermitianEigenpairs hermitian_eigenpairs(const Eigen::MatrixXcd& a);
struct SymmetricEigenpairs {
    Eigen::VectorXd values;
    Eigen::MatrixXd vectors;
};
SymmetricEigenpairs symmetric_eigenpairs(const Eigen::MatrixXd& a);

/// a·b, and with bᴴ and bᵀ for b, aᴴ for a.
Eigen::MatrixXcd product(const Eigen::MatrixXcd& a, const Eigen::MatrixXcd& b);
Eigen::MatrixXcd product(const Eigen::MatrixXd& a, const Eigen::MatrixXcd& b);
Eigen::MatrixXcd product(const Eigen::MatrixXcd& a, const Eigen::MatrixXd& b);
Eigen::MatrixXcd product_with_adjoint(const Eigen::MatrixXcd& a, const Eigen::MatrixXcd& b);
Eigen::MatrixXcd product_with_transposed(const Eigen::MatrixXcd& a, const Eigen::MatrixXcd& b);
Eigen::MatrixXcd product_of_adjoint(const Eigen::MatrixXcd& a, const Eigen::MatrixXcd& b);

/// a⁻¹·b by elimination with row exchanges; not finite where a is singular.
Eigen::MatrixXd solve(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b);
Eigen::VectorXd solve(const Eigen::MatrixXd& a, const Eigen::VectorXd& b);
Eigen::MatrixXcd solve(const Eigen::MatrixXcd& a, const Eigen::MatrixXcd& b);
Eigen::VectorXcd solve(const Eigen::MatrixXcd& a, const Eigen::VectorXcd& b);
Eigen::MatrixXcd inverse(const Eigen::MatrixXcd& a);
/// The same of a symmetric a, by L·D·Lᵀ.
Eigen::VectorXd solve_symmetric(const Eigen::MatrixXd& a, const Eigen::VectorXd& b);

/// The x of least |a·x − b|, by QR with column exchanges; a may be of deficient rank.
Eigen::VectorXcd least_squares(const Eigen::MatrixXcd& a, const Eigen::VectorXcd& b);

/// Orthonormal columns that span those of m, by Householder's QR.
Eigen::MatrixXcd orthonormal(const Eigen::MatrixXcd& m);

/// a = u·diag(sigma)·vᵀ, sigma falling; as many columns as the smaller side of a.
struct ThinSvd {
    Eigen::MatrixXd u;
    Eigen::VectorXd sigma;
    Eigen::MatrixXd v;
};
ThinSvd thin_svd(const Eigen::MatrixXd& a);

}  // namespace ringquell::internal
