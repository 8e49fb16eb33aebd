// The least of a sum of squares, by Levenberg and Marquardt's method.
#pragma once

#include <Eigen/Core>
#include <functional>

namespace ringquell::internal {

/// Residuals and their derivatives at x (a row for each residual); null: not asked for. False where x is not
/// possible: the step is then shortened.
using Residuals = std::function<bool(const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* slopes)>;

struct NonlinearFit {
    Eigen::VectorXd x;
    Eigen::VectorXd residuals;
    Eigen::MatrixXd slopes;  // at x
    bool converged = false;
    int evaluations = 0;
    double cost() const { return residuals.squaredNorm(); }
};

/// From `start`, at which the residuals must exist (std::invalid_argument if not). `rows`: how many residuals there
/// are, at least as many as unknowns. Ends where neither a step nor the cost changes by more than `precision`, as a
/// share.
NonlinearFit fit_nonlinear(const Residuals& residuals, const Eigen::VectorXd& start, Eigen::Index rows,
                           double precision = 1e-10);

}  // namespace ringquell::internal
