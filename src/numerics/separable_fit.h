// Least squares where some parameters enter linearly: min |y − Φ(α)·c|² over α and c.
//
// Variable projection (G. H. Golub, V. Pereyra, SIAM J. Numer. Anal. 10, 1973, 413: memory) in the simpler form of
// L. Kaufman (BIT 15, 1975, 49: memory): c is solved for at every α, and α moves by Gauss–Newton steps of the part
// of ∂(Φc)/∂α that stands at right angles to Φ; Levenberg's and Marquardt's damping where a step does not help.
#pragma once

#include <Eigen/Core>
#include <functional>
#include <optional>

namespace ringquell::internal {

/// N samples, q parameters α, p columns of Φ.
struct SeparableModel {
    /// Φ(α), N × p.
    std::function<Eigen::MatrixXd(const Eigen::VectorXd& alpha)> basis;
    /// N × q: column k is ∂(Φ(α)·c)/∂α_k; Φ(α) is handed in.
    std::function<Eigen::MatrixXd(const Eigen::VectorXd& alpha, const Eigen::VectorXd& c,
                                  const Eigen::MatrixXd& phi)>
        slope;
};

struct SeparableFit {
    Eigen::VectorXd alpha, c;
    Eigen::VectorXd residual;  // y − Φ·c
    double squares = 0;        // |residual|²
    /// (JᵀJ)⁻¹ of all parameters, α before c: their covariance for noise of variance 1. Times the noise's variance it
    /// is the Cramér–Rao bound, for white normal noise.
    Eigen::MatrixXd covariance;
    int iterations = 0;
    /// The last step changed the model by less than 1e-10 of the residual, or steps no longer shrink below 1e-6 of it:
    /// rounding.
    bool converged = false;

    /// |residual|² over the degrees of freedom that are left.
    double noise_variance() const {
        return squares / static_cast<double>(residual.size() - alpha.size() - c.size());
    }
};

/// From a start near enough. Empty where Φ at the start has columns that are zero, not finite, or dependent to
/// rounding, or where ∂(Φc)/∂α is so at the end. Wants N > p + q.
std::optional<SeparableFit> fit_separable(const SeparableModel& model, const Eigen::VectorXd& y,
                                          const Eigen::VectorXd& start, int most_iterations = 60);

}  // namespace ringquell::internal
