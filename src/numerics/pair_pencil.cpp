#include "numerics/pair_pencil.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>

#include "numerics/decompositions.h"
#include "numerics/small_eigen.h"
#include "ringquell/error.h"

namespace ringquell::internal {

namespace {

using Complex = std::complex<double>;
using Eigen::Index;
using Eigen::MatrixXcd;
using Eigen::MatrixXd;
using Eigen::VectorXcd;

class Pairs {
  public:
    Pairs(const ResistiveFamily& family, double limit)
        : f_(family), limit_(limit), n_(family.base.rows()), m_(family.b.cols()) {
        const Eigenpairs base = eigenpairs(f_.base);
        lambda_ = base.values;
        v_ = base.vectors;
        inverse_ = inverse(v_);
        // Everything below is said in the eigenvectors' coordinates: they must make the matrix again.
        constexpr double good = 1e-6;
        const double missing = (product(MatrixXcd(v_ * lambda_.asDiagonal()), inverse_) - f_.base).norm();
        if (!(missing <= good * f_.base.norm()))
            throw NumericalError("the eigenvectors of the base are nearly parallel");
        c_ = product(f_.c, v_);
        b_ = product(inverse_, f_.b);
    }

    // Y(p, q) is unknown p + m·q, as reshaped() has it; of a complex Y the imaginary part comes behind.

    /// Hermitian X, complex Y.
    void on_ray(double zeta) {
        const Complex e(-zeta, std::sqrt(1 - zeta * zeta));
        MatrixXcd divisor(n_, n_);
        for (Index j = 0; j < n_; ++j)
            for (Index i = 0; i < n_; ++i)
                divisor(i, j) = std::conj(e) * lambda_[i] - e * std::conj(lambda_[j]);
        MatrixXd map(2 * m_ * n_, 2 * m_ * n_);
        Index column = 0;
        for (const Complex unit : {Complex(1, 0), Complex(0, 1)})
            for (Index q = 0; q < n_; ++q) {
                const VectorXcd g = inverse_.col(q);
                for (Index p = 0; p < m_; ++p) {
                    const VectorXcd a = std::conj(e) * unit * b_.col(p);
                    const MatrixXcd z = (a * g.adjoint() - g * a.adjoint()).cwiseQuotient(divisor);
                    const MatrixXcd y = product_with_adjoint(product(c_, z), v_);
                    map.col(column).head(m_ * n_) = y.real().reshaped();
                    map.col(column).tail(m_ * n_) = y.imag().reshaped();
                    ++column;
                }
            }
        keep(map);
    }

    /// Antisymmetric X, real Y.
    void on_axis() {
        MatrixXcd divisor(n_, n_);
        for (Index j = 0; j < n_; ++j)
            for (Index i = 0; i < n_; ++i) divisor(i, j) = lambda_[i] + lambda_[j];
        MatrixXd map(m_ * n_, m_ * n_);
        for (Index q = 0; q < n_; ++q)
            for (Index p = 0; p < m_; ++p) map.col(p + m_ * q) = answer(b_.col(p), inverse_.col(q), divisor);
        keep(map);
    }

    /// As on_axis, with Q = δ·Y·Cᵀ (antisymmetric, m × m) beside Y because δ enters squared.
    void on_circle(double radius) {
        MatrixXcd divisor(n_, n_);
        for (Index j = 0; j < n_; ++j)
            for (Index i = 0; i < n_; ++i) divisor(i, j) = lambda_[i] * lambda_[j] - radius * radius;
        const Index y = m_ * n_, q = m_ * (m_ - 1) / 2;
        MatrixXd map = MatrixXd::Zero(y + q, y + q);
        for (Index k = 0; k < n_; ++k)
            for (Index p = 0; p < m_; ++p)
                map.col(p + m_ * k).head(y) =
                    answer(b_.col(p), lambda_.cwiseProduct(inverse_.col(k)), divisor);
        Index pair = y;
        for (Index p = 0; p < m_; ++p)
            for (Index other = p + 1; other < m_; ++other, ++pair) {
                map.col(pair).head(y) = -answer(b_.col(p), b_.col(other), divisor);
                // The antisymmetric part of Y·Cᵀ at (p, other).
                for (Index k = 0; k < n_; ++k) {
                    map(pair, p + m_ * k) += 0.5 * f_.c(other, k);
                    map(pair, other + m_ * k) -= 0.5 * f_.c(p, k);
                }
            }
        keep(map);
    }

    void at_zero() { keep(f_.c * solve(f_.base, f_.b)); }

    std::vector<double> sorted() {
        std::sort(out_.begin(), out_.end());
        return out_;
    }

  private:
    /// C·X, column by column, for the right side a·gᵀ − g·aᵀ.
    Eigen::VectorXd answer(const VectorXcd& a, const VectorXcd& g, const MatrixXcd& divisor) const {
        const MatrixXcd z = (a * g.transpose() - g * a.transpose()).cwiseQuotient(divisor);
        const MatrixXd y = product_with_transposed(product(c_, z), v_).real();
        return y.reshaped();
    }

    void keep(const MatrixXd& map) {
        // A double root comes out as a pair, apart by the root of rounding; a false value costs one
        // evaluation.
        constexpr double nearly = 1e-3;
        eigen_.compute(map, false);
        for (const Complex& mu : eigen_.eigenvalues()) {
            if (mu == 0.0 || std::abs(mu.imag()) > nearly * std::abs(mu.real())) continue;
            const double r = f_.at + 1 / mu.real();
            if (r >= 0 && r <= limit_) out_.push_back(r);
        }
    }

    const ResistiveFamily& f_;
    double limit_;
    Index n_, m_;
    VectorXcd lambda_;
    MatrixXcd v_, inverse_, c_, b_;  // of the base, and C and B in its eigenvectors
    SmallEigen eigen_;
    std::vector<double> out_;
};

}  // namespace

std::optional<ResistiveFamily> resistive_family(const std::function<MatrixXd(double r)>& a, double limit) {
    // The base lies below zero, where nothing that is sought lies, at no round number; the values from which
    // the family is read lie well inside the range.
    constexpr double base = -0.3819, first = 1, second = 0.5, third = 0.25, rounding = 1e-9;
    const MatrixXd high = a(first * limit), low = a(second * limit), proof = a(third * limit);
    const MatrixXd slope = (low - high) / ((first - second) * limit);
    const MatrixXd expected = low + slope * ((second - third) * limit);
    if (!((proof - expected).norm() <= rounding * (high.norm() + low.norm()))) return std::nullopt;
    const auto [u, sigma, v] = thin_svd(slope);
    Index rank = 0;
    while (rank < sigma.size() && sigma[rank] > rounding * sigma[0]) ++rank;
    if (rank == 0) return std::nullopt;
    ResistiveFamily out;
    out.at = base * limit;
    out.base = low + slope * (second * limit - out.at);
    const Eigen::VectorXd root = sigma.head(rank).cwiseSqrt();
    out.b = u.leftCols(rank) * root.asDiagonal();
    out.c = root.asDiagonal() * v.leftCols(rank).transpose();
    return out;
}

ResistiveFamily about(const ResistiveFamily& family, double at) {
    ResistiveFamily out = family;
    out.base -= (at - family.at) * family.b * family.c;
    out.at = at;
    return out;
}

namespace {

std::vector<double> about_one_base(const ResistiveFamily& family, double damping,
                                   const std::vector<double>& radii, double limit) {
    Pairs pairs(family, limit);
    if (damping > 0) pairs.on_ray(damping);
    pairs.on_axis();
    pairs.at_zero();
    for (const double radius : radii) pairs.on_circle(radius);
    return pairs.sorted();
}

}  // namespace

std::vector<double> pair_boundary_values(const ResistiveFamily& family, double damping,
                                         const std::vector<double>& radii, double limit) {
    constexpr std::array others{1.87, 0.43, 3.1};  // times the base given
    for (size_t k = 0;; ++k) {
        try {
            return about_one_base(k == 0 ? family : about(family, others[k - 1] * family.at), damping, radii,
                                  limit);
        } catch (const NumericalError&) {
            if (k == others.size()) throw;
        }
    }
}

}  // namespace ringquell::internal
