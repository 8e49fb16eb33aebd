#include "support/dense.h"

#include <Eigen/LU>
#include <Eigen/QR>

#include "numerics/decompositions.h"
#include "numerics/real_schur.h"

namespace dense {

Eigen::VectorXcd eigenvalues(const Eigen::MatrixXd& a) {
    return Eigen::EigenSolver<Eigen::MatrixXd>(a, false).eigenvalues();
}

Eigen::VectorXd symmetric_eigenvalues(const Eigen::MatrixXd& a) {
    return ringquell::internal::hermitian_eigenpairs(a.cast<std::complex<double>>()).values;
}

/// Those of [Re a, −Im a; Im a, Re a] are those of a, each twice.
Eigen::VectorXd singular_values(const Eigen::MatrixXcd& a) {
    Eigen::MatrixXd real(2 * a.rows(), 2 * a.cols());
    real << a.real(), -a.imag(), a.imag(), a.real();
    const Eigen::VectorXd twice = ringquell::internal::thin_svd(real).sigma;
    Eigen::VectorXd out(twice.size() / 2);
    for (Eigen::Index k = 0; k < out.size(); ++k) out(k) = twice(2 * k);
    return out;
}

Eigen::MatrixXcd solve(const Eigen::MatrixXcd& a, const Eigen::MatrixXcd& b) {
    return Eigen::FullPivLU<Eigen::MatrixXcd>(a).solve(b);
}

double log10_determinant(const Eigen::MatrixXcd& a) {
    const Eigen::FullPivLU<Eigen::MatrixXcd> lu(a);
    return lu.matrixLU().diagonal().array().abs().log10().sum();
}

Eigen::MatrixXd orthogonal(const Eigen::MatrixXd& a) {
    return Eigen::HouseholderQR<Eigen::MatrixXd>(a).householderQ();
}

}  // namespace dense
