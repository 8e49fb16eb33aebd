// Poles of a sum of exponentials from even samples.
//
// y[n] = Σ c_k·z_k^n + noise, n = 0 … N − 1. The Hankel matrix Y[i][j] = y[i + j], j = 0 … L, has rank K without
// noise, and its rows are combinations of (1, z_k, z_k², …, z_k^L). Of its right singular vectors the K strongest
// span those, so that W, their conjugates without the last row and without the first, obey W₁·F = W₂ with the z_k
// as eigenvalues of F (Y. Hua, T. K. Sarkar, "Matrix pencil method for estimating parameters of exponentially
// damped/undamped sinusoids in noise", IEEE Trans. ASSP 38, 1990, 814: abstract read; the equations from memory).
//
// Singular values come from YᴴY: what is weaker than 1e-8 of the strongest is lost, far below any record's noise.
#pragma once

#include <Eigen/Core>
#include <complex>
#include <vector>

namespace ringquell::internal {

class MatrixPencil {
  public:
    /// Least variance: L between N/3 and N/2. Wants 1 ≤ L ≤ N − 2. Throws NumericalError where an eigenvalue
    /// iteration does not converge.
    MatrixPencil(const Eigen::VectorXd& y, Eigen::Index pencil_length);
    MatrixPencil(const Eigen::VectorXcd& y, Eigen::Index pencil_length);

    /// Falling; L + 1 of them.
    const Eigen::VectorXd& singular_values() const { return sigma_; }

    /// How many singular values stand out of white noise of unknown size: above the hard threshold for singular
    /// values of M. Gavish, D. L. Donoho, IEEE Trans. IT 60 (2014) 5040 (their cubic for ω(β) from memory), taken
    /// from the median, and above what rounding leaves. An upper estimate: noise in a Hankel matrix is not white.
    Eigen::Index order() const;

    /// The poles of that order, 0 ≤ order ≤ L; of a real record in conjugate pairs. None
    /// where those vectors hold no poles (two rows alike).
    std::vector<std::complex<double>> poles(Eigen::Index order) const;

  private:
    bool real_ = true;
    Eigen::Index rows_ = 0;
    Eigen::VectorXd sigma_;
    Eigen::MatrixXd real_vectors_;  // strongest first
    Eigen::MatrixXcd complex_vectors_;
};

}  // namespace ringquell::internal
