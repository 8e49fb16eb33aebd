#include "small_eigen.h"

#include <cmath>
#include <limits>

#include "ringquell/error.h"

namespace ringquell {

namespace {

/// Parlett & Reinsch's balancing by powers of two (Numer. Math. 13, 1969), without permutations: a ← D⁻¹·a·D.
void balance(Eigen::MatrixXd& a, Eigen::VectorXd& d) {
    const Eigen::Index n = a.rows();
    d.setOnes(n);
    constexpr int sweeps = 8;  // two or three do; a bound against endless swinging
    for (int sweep = 0; sweep < sweeps; ++sweep) {
        bool changed = false;
        for (Eigen::Index i = 0; i < n; ++i) {
            const double column = a.col(i).cwiseAbs().sum() - std::abs(a(i, i));
            const double row = a.row(i).cwiseAbs().sum() - std::abs(a(i, i));
            if (!(column > 0) || !(row > 0) || !std::isfinite(column) || !std::isfinite(row)) continue;
            const int exponent = static_cast<int>(std::lround(0.5 * std::log2(row / column)));
            if (exponent == 0) continue;
            const double f = std::ldexp(1.0, exponent);
            if (column * f + row / f >= 0.95 * (column + row)) continue;
            a.col(i) *= f;
            a.row(i) /= f;
            d[i] *= f;
            changed = true;
        }
        if (!changed) return;
    }
}

}  // namespace

void SmallEigen::compute(const Eigen::MatrixXd& a, bool with_vectors) {
    eigenvalues_.clear();
    const Eigen::Index n = a.rows();
    if (n == 0) return;
    balanced_ = a;
    balance(balanced_, scale_);
    if (!balanced_.allFinite()) throw NumericalError("the state matrix holds a number that is not finite");
    hessenberg_.compute(balanced_);
    h_ = hessenberg_.matrixH();
    if (with_vectors) q_ = hessenberg_.matrixQ();
    schur_.computeFromHessenberg(h_, h_ /* not used */, false);
    if (schur_.info() != Eigen::Success) throw NumericalError("the eigenvalue iteration did not converge");
    const auto& t = schur_.matrixT();
    for (Eigen::Index i = 0; i < n;) {
        if (i + 1 < n && t(i + 1, i) != 0) {
            const double p = 0.5 * (t(i, i) - t(i + 1, i + 1));
            const double z = std::sqrt(std::abs(p * p + t(i + 1, i) * t(i, i + 1)));
            const double real = t(i + 1, i + 1) + p;
            eigenvalues_.emplace_back(real, z);
            eigenvalues_.emplace_back(real, -z);
            i += 2;
        } else {
            eigenvalues_.emplace_back(t(i, i), 0);
            ++i;
        }
    }
}

Eigen::VectorXcd SmallEigen::eigenvector(std::complex<double> lambda) const {
    // (H − λ)·y = b twice, by elimination with row exchanges of neighbours; H is upper Hessenberg.
    const Eigen::Index n = h_.rows();
    Eigen::MatrixXcd u = h_.cast<std::complex<double>>();
    u.diagonal().array() -= lambda;
    const double tiny = std::numeric_limits<double>::epsilon() * std::max(h_.cwiseAbs().maxCoeff(), std::numeric_limits<double>::min());
    std::vector<std::complex<double>> factor(static_cast<size_t>(n));
    std::vector<bool> exchanged(static_cast<size_t>(n), false);
    for (Eigen::Index k = 0; k + 1 < n; ++k) {
        const auto i = static_cast<size_t>(k);
        if (std::abs(u(k + 1, k)) > std::abs(u(k, k))) {
            u.row(k).tail(n - k).swap(u.row(k + 1).tail(n - k));
            exchanged[i] = true;
        }
        if (std::abs(u(k, k)) < tiny) u(k, k) = tiny;
        factor[i] = u(k + 1, k) / u(k, k);
        if (factor[i] != 0.0) u.row(k + 1).tail(n - k - 1) -= factor[i] * u.row(k).tail(n - k - 1);
    }
    if (std::abs(u(n - 1, n - 1)) < tiny) u(n - 1, n - 1) = tiny;
    // A start without symmetry, so that it is not orthogonal to what is sought.
    Eigen::VectorXcd y(n);
    for (Eigen::Index i = 0; i < n; ++i) y[i] = 1.0 + 0.37 * std::sin(1.7 * static_cast<double>(i + 1));
    const auto back_substitute = [&] {
        for (Eigen::Index j = n - 1; j >= 0; --j) {
            y[j] /= u(j, j);
            if (j > 0) y.head(j) -= y[j] * u.col(j).head(j);
        }
        y.normalize();
    };
    back_substitute();
    for (Eigen::Index k = 0; k + 1 < n; ++k) {
        if (exchanged[static_cast<size_t>(k)]) std::swap(y[k], y[k + 1]);
        y[k + 1] -= factor[static_cast<size_t>(k)] * y[k];
    }
    back_substitute();
    Eigen::VectorXcd x = q_.cast<std::complex<double>>() * y;
    x = scale_.asDiagonal() * x;
    return x.normalized();
}

}  // namespace ringquell
