#include "numerics/separable_fit.h"

#include <Eigen/Cholesky>
#include <cmath>
#include <limits>

namespace ringquell::internal {

namespace {

/// A⁺ by the Cholesky factor of AᵀA with columns of length 1. A solution that was improved once with its own residual is
/// as good as by QR while the condition is below 1e7, at half the work and without a copy.
class LeastSquares {
  public:
    bool factor(const Eigen::MatrixXd& a) {
        scale_ = a.colwise().norm().transpose();
        if (!scale_.allFinite() || scale_.minCoeff() <= 0) return false;
        scale_ = scale_.cwiseInverse();
        Eigen::MatrixXd square = a.transpose() * a;
        square = scale_.asDiagonal() * square * scale_.asDiagonal();
        factor_.compute(square);
        if (factor_.info() != Eigen::Success) return false;
        const Eigen::VectorXd pivots = factor_.matrixLLT().diagonal();
        constexpr double dependent = 1e-7;
        return pivots.allFinite() && pivots.minCoeff() > dependent;
    }
    Eigen::MatrixXd solve(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b) const {
        return once(a.transpose() * b);
    }
    Eigen::VectorXd improved(const Eigen::MatrixXd& a, const Eigen::VectorXd& b) const {
        Eigen::VectorXd x = once(a.transpose() * b);
        x += once(a.transpose() * (b - a * x));
        return x;
    }
    /// (AᵀA)⁻¹
    Eigen::MatrixXd inverse_square() const {
        const Eigen::Index n = scale_.size();
        return scale_.asDiagonal() * factor_.solve(Eigen::MatrixXd::Identity(n, n)) * scale_.asDiagonal();
    }

  private:
    Eigen::MatrixXd once(const Eigen::MatrixXd& right) const {
        return scale_.asDiagonal() * factor_.solve(scale_.asDiagonal() * right);
    }
    Eigen::VectorXd scale_;
    Eigen::LLT<Eigen::MatrixXd> factor_;
};

struct State {
    Eigen::VectorXd alpha, c, residual;
    Eigen::MatrixXd phi;
    LeastSquares linear;
    double squares = 0;
};

std::optional<State> state_at(const SeparableModel& model, const Eigen::VectorXd& y,
                              const Eigen::VectorXd& alpha) {
    State out;
    out.alpha = alpha;
    out.phi = model.basis(alpha);
    if (!out.linear.factor(out.phi)) return std::nullopt;
    out.c = out.linear.improved(out.phi, y);
    out.residual = y - out.phi * out.c;
    out.squares = out.residual.squaredNorm();
    if (!std::isfinite(out.squares)) return std::nullopt;
    return out;
}

/// What moves with α at c: its part along Φ, and the rest.
struct Slope {
    Eigen::MatrixXd along;  // Φ⁺·J, p × q
    Eigen::MatrixXd rest;   // J − Φ·Φ⁺·J, N × q
};

Slope slope_at(const SeparableModel& model, const State& at) {
    Slope out;
    const Eigen::MatrixXd j = model.slope(at.alpha, at.c, at.phi);
    out.along = at.linear.solve(at.phi, j);
    out.rest = j - at.phi * out.along;
    return out;
}

/// The step that Marquardt's damping μ leaves of Gauss's and Newton's.
Eigen::VectorXd damped_step(const Slope& slope, const Eigen::VectorXd& residual, double mu) {
    const Eigen::VectorXd length = slope.rest.colwise().norm().transpose().cwiseMax(1e-300);
    const Eigen::VectorXd scale = length.cwiseInverse();
    Eigen::MatrixXd square = scale.asDiagonal() * (slope.rest.transpose() * slope.rest) * scale.asDiagonal();
    square.diagonal().array() += mu;
    const Eigen::VectorXd right = scale.asDiagonal() * (slope.rest.transpose() * residual);
    return scale.asDiagonal() * square.ldlt().solve(right);
}

enum class Moved { down, enough, no };

/// Moves `at` one step down. `last` is the length of the step before, in the model's values.
Moved step_down(const SeparableModel& model, const Eigen::VectorXd& y, State& at, double& mu, double& last) {
    constexpr double enough = 1e-10, rounding = 1e-15, tiny = 1e-6, first_damping = 1e-4, most_damping = 1e6;
    const Slope slope = slope_at(model, at);
    const Eigen::VectorXd free_step = damped_step(slope, at.residual, 1e-14);
    const double length = (slope.rest * free_step).norm(), left = at.residual.norm();
    // Near the end squares say nothing more (they change by the square of the step): then steps that shrink are
    // taken, until they no longer do, which is rounding.
    if (length <= tiny * left || length <= rounding * 10 * y.norm()) {
        if (length >= last) return Moved::enough;
        auto next = state_at(model, y, at.alpha + free_step);
        if (!next || next->squares > at.squares * (1 + tiny)) return Moved::enough;
        at = std::move(*next);
        last = length;
        return length <= std::max(enough * left, rounding * y.norm()) ? Moved::enough : Moved::down;
    }
    last = length;
    for (; mu <= most_damping; mu = mu == 0 ? first_damping : mu * 10) {
        const Eigen::VectorXd step = mu == 0 ? free_step : damped_step(slope, at.residual, mu);
        if (!step.allFinite()) continue;
        auto next = state_at(model, y, at.alpha + step);
        if (!next || next->squares >= at.squares) continue;
        at = std::move(*next);
        mu = mu <= first_damping ? 0 : mu / 10;
        return Moved::down;
    }
    return Moved::no;
}

}  // namespace

std::optional<SeparableFit> fit_separable(const SeparableModel& model, const Eigen::VectorXd& y,
                                          const Eigen::VectorXd& start, int most_iterations) {
    auto at = state_at(model, y, start);
    if (!at) return std::nullopt;
    SeparableFit out;
    double mu = 0, last = std::numeric_limits<double>::infinity();
    out.converged = start.size() == 0;
    while (!out.converged && out.iterations < most_iterations) {
        ++out.iterations;
        const Moved moved = step_down(model, y, *at, mu, last);
        if (moved == Moved::no) break;
        out.converged = moved == Moved::enough;
    }
    const Eigen::Index q = start.size(), p = at->c.size();
    out.covariance.resize(q + p, q + p);
    out.covariance.bottomRightCorner(p, p) = at->linear.inverse_square();
    if (q > 0) {
        const Slope slope = slope_at(model, *at);
        LeastSquares rest;
        if (!rest.factor(slope.rest)) return std::nullopt;
        const Eigen::MatrixXd own = rest.inverse_square();
        out.covariance.topLeftCorner(q, q) = own;
        out.covariance.bottomLeftCorner(p, q) = -slope.along * own;
        out.covariance.topRightCorner(q, p) = out.covariance.bottomLeftCorner(p, q).transpose();
        out.covariance.bottomRightCorner(p, p) += slope.along * own * slope.along.transpose();
    }
    out.alpha = at->alpha;
    out.c = at->c;
    out.residual = at->residual;
    out.squares = at->squares;
    return out;
}

}  // namespace ringquell::internal
