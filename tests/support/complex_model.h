// Complex samples as a separable model of real ones: real parts above imaginary ones.
#pragma once

#include <Eigen/Core>
#include <complex>
#include <functional>

#include "numerics/separable_fit.h"

namespace complex_model {

using Complex = std::complex<double>;

inline Eigen::VectorXd stacked(const Eigen::VectorXcd& y) {
    Eigen::VectorXd out(2 * y.size());
    out << y.real(), y.imag();
    return out;
}

/// y = Φ(α)·c with complex Φ (N × p) and c; `slope` gives ∂(Φ·c)/∂α (N × q). Of c the real and imaginary parts of each
/// column stand side by side. `weight` multiplies every sample, where it is given.
inline ringquell::internal::SeparableModel model(
    const std::function<Eigen::MatrixXcd(const Eigen::VectorXd&)>& basis,
    const std::function<Eigen::MatrixXcd(const Eigen::VectorXd&, const Eigen::VectorXcd&)>& slope,
    const Eigen::VectorXd& weight) {
    const auto real = [weight](const Eigen::MatrixXcd& m) {
        const Eigen::MatrixXcd weighted = weight.asDiagonal() * m;
        Eigen::MatrixXd out(2 * m.rows(), m.cols());
        out << weighted.real(), weighted.imag();
        return out;
    };
    ringquell::internal::SeparableModel out;
    out.basis = [=](const Eigen::VectorXd& alpha) {
        const Eigen::MatrixXcd phi = basis(alpha);
        Eigen::MatrixXcd both(phi.rows(), 2 * phi.cols());
        for (Eigen::Index k = 0; k < phi.cols(); ++k) {
            both.col(2 * k) = phi.col(k);
            both.col(2 * k + 1) = Complex(0, 1) * phi.col(k);
        }
        return real(both);
    };
    out.slope = [=](const Eigen::VectorXd& alpha, const Eigen::VectorXd& c, const Eigen::MatrixXd&) {
        Eigen::VectorXcd amplitudes(c.size() / 2);
        for (Eigen::Index k = 0; k < amplitudes.size(); ++k) amplitudes(k) = {c(2 * k), c(2 * k + 1)};
        return real(slope(alpha, amplitudes));
    };
    return out;
}

/// Σ c_k·e^{(−α_{2k} + jα_{2k+1})·n}, n = 0 … samples − 1.
inline ringquell::internal::SeparableModel modes(Eigen::Index samples) {
    const auto basis = [samples](const Eigen::VectorXd& alpha) {
        Eigen::MatrixXcd phi(samples, alpha.size() / 2);
        for (Eigen::Index k = 0; k < phi.cols(); ++k)
            for (Eigen::Index n = 0; n < samples; ++n)
                phi(n, k) = std::exp(Complex(-alpha(2 * k), alpha(2 * k + 1)) * static_cast<double>(n));
        return phi;
    };
    const auto slope = [basis, samples](const Eigen::VectorXd& alpha, const Eigen::VectorXcd& c) {
        const Eigen::MatrixXcd phi = basis(alpha);
        Eigen::MatrixXcd out(samples, alpha.size());
        for (Eigen::Index k = 0; k < phi.cols(); ++k)
            for (Eigen::Index n = 0; n < samples; ++n) {
                const Complex moved = static_cast<double>(n) * c(k) * phi(n, k);
                out(n, 2 * k) = -moved;
                out(n, 2 * k + 1) = Complex(0, 1) * moved;
            }
        return out;
    };
    return model(basis, slope, Eigen::VectorXd::Ones(samples));
}

}  // namespace complex_model
