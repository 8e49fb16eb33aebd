// Eigenvalues of a real matrix, and single eigenvectors by inverse iteration in its Hessenberg form.
#pragma once

#include <complex>
#include <vector>

#include "numerics/real_schur.h"
#include "numerics/rounding.h"

namespace ringquell::internal {

/// The eigenvalues with Im λ >= 0, equal ones together, pairs next to the real axis (rounding.h) as two real ones.
std::vector<std::vector<std::complex<double>>> equal_groups(
    const std::vector<std::complex<double>>& eigenvalues);

class SmallEigen {
  public:
    /// All eigenvalues of a (n × n), balanced by powers of two. `with_vectors`: eigenvector() will be asked.
    /// Throws NumericalError where the QR iteration converges neither on it nor on
    /// matrices that are similar to it.
    /// `first_attempt` above 0 begins with one of these, for tests.
    void compute(const Eigen::MatrixXd& a, bool with_vectors, int first_attempt = 0);
    const std::vector<std::complex<double>>& eigenvalues() const { return eigenvalues_; }
    /// A unit eigenvector to a computed eigenvalue; O(n²). Of a multiple eigenvalue, any in its space.
    Eigen::VectorXcd eigenvector(std::complex<double> lambda) const { return eigenspace(lambda, 1); }
    /// The space of `count` eigenvalues that are equal but for rounding: orthonormal columns.
    Eigen::MatrixXcd eigenspace(std::complex<double> lambda, int count) const;

  private:
    /// The QR iteration of the balanced matrix; from the second attempt on of one that is similar to it.
    bool iterate(int attempt, bool with_vectors);

    Eigen::HessenbergDecomposition<Eigen::MatrixXd> hessenberg_;
    Eigen::RealSchur<Eigen::MatrixXd> schur_;
    Eigen::MatrixXd h_, q_, balanced_;
    Eigen::VectorXd scale_;
    std::vector<std::complex<double>> eigenvalues_;
};

}  // namespace ringquell::internal
