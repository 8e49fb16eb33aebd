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

/// I − 2·u·uᵀ with a unit vector u of no particular direction, another for each number.
Eigen::MatrixXd reflection(Eigen::Index n, int number) {
    Eigen::VectorXd u(n);
    for (Eigen::Index i = 0; i < n; ++i)
        u[i] = 1 + std::sin((1.3 + 0.7 * number) * static_cast<double>(i + 1));
    u.normalize();
    return Eigen::MatrixXd::Identity(n, n) - 2 * u * u.transpose();
}

}  // namespace

bool SmallEigen::iterate(int attempt, bool with_vectors) {
    // Francis' shifts can swing for ever on one matrix and converge at once on its reflection.
    Eigen::MatrixXd turn;
    if (attempt > 0) {
        turn = reflection(balanced_.rows(), attempt);
        hessenberg_.compute(turn * balanced_ * turn);
    } else {
        hessenberg_.compute(balanced_);
    }
    h_ = hessenberg_.matrixH();
    if (with_vectors) {
        q_ = hessenberg_.matrixQ();
        if (attempt > 0) q_ = turn * q_;
    }
    schur_.computeFromHessenberg(h_, h_ /* not used */, false);
    return schur_.info() == Eigen::Success;
}

void SmallEigen::compute(const Eigen::MatrixXd& a, bool with_vectors, int first_attempt) {
    eigenvalues_.clear();
    const Eigen::Index n = a.rows();
    if (n == 0) return;
    balanced_ = a;
    balance(balanced_, scale_);
    if (!balanced_.allFinite()) throw NumericalError("the state matrix holds a number that is not finite");
    constexpr int most_attempts = 5;
    int attempt = first_attempt;
    while (!iterate(attempt, with_vectors))
        if (++attempt == most_attempts) throw NumericalError("the eigenvalue iteration did not converge");
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
    // (H − λ)·y = b twice, by elimination with row exchanges of neighbours; H is upper Hessenberg. Rows are
    // contiguous, real and imaginary parts apart, so that the loops vectorise.
    using Rows = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
    const Eigen::Index n = h_.rows();
    Rows re = h_, im = Rows::Zero(n, n);
    re.diagonal().array() -= lambda.real();
    im.diagonal().array() -= lambda.imag();
    const double tiny = std::numeric_limits<double>::epsilon() *
                        std::max(h_.cwiseAbs().maxCoeff(), std::numeric_limits<double>::min());
    Eigen::VectorXd factor_re(n), factor_im(n), inverse_re(n), inverse_im(n);
    std::vector<bool> exchanged(static_cast<size_t>(n), false);
    const auto invert = [&](Eigen::Index k) {
        if (std::abs(re(k, k)) + std::abs(im(k, k)) < tiny) {
            re(k, k) = tiny;
            im(k, k) = 0;
        }
        const double square = re(k, k) * re(k, k) + im(k, k) * im(k, k);
        inverse_re[k] = re(k, k) / square;
        inverse_im[k] = -im(k, k) / square;
    };
    for (Eigen::Index k = 0; k + 1 < n; ++k) {
        const Eigen::Index rest = n - k;
        if (std::abs(re(k + 1, k)) > std::abs(re(k, k)) + std::abs(im(k, k))) {
            re.row(k).tail(rest).swap(re.row(k + 1).tail(rest));
            im.row(k).tail(rest).swap(im.row(k + 1).tail(rest));
            exchanged[static_cast<size_t>(k)] = true;
        }
        invert(k);
        const double below_re = re(k + 1, k), below_im = im(k + 1, k);
        const double f = below_re * inverse_re[k] - below_im * inverse_im[k],
                     g = below_re * inverse_im[k] + below_im * inverse_re[k];
        factor_re[k] = f;
        factor_im[k] = g;
        re.row(k + 1).tail(rest - 1) -= f * re.row(k).tail(rest - 1) - g * im.row(k).tail(rest - 1);
        im.row(k + 1).tail(rest - 1) -= f * im.row(k).tail(rest - 1) + g * re.row(k).tail(rest - 1);
    }
    invert(n - 1);
    // A start without symmetry, so that it is not orthogonal to what is sought.
    Eigen::VectorXd y(n), z = Eigen::VectorXd::Zero(n);  // real and imaginary part
    for (Eigen::Index i = 0; i < n; ++i) y[i] = 1.0 + 0.37 * std::sin(1.7 * static_cast<double>(i + 1));
    const auto back_substitute = [&] {
        for (Eigen::Index j = n - 1; j >= 0; --j) {
            const Eigen::Index rest = n - 1 - j;
            const double a =
                y[j] - (re.row(j).tail(rest).dot(y.tail(rest)) - im.row(j).tail(rest).dot(z.tail(rest)));
            const double b =
                z[j] - (re.row(j).tail(rest).dot(z.tail(rest)) + im.row(j).tail(rest).dot(y.tail(rest)));
            y[j] = a * inverse_re[j] - b * inverse_im[j];
            z[j] = a * inverse_im[j] + b * inverse_re[j];
        }
        const double size = std::hypot(y.norm(), z.norm());
        y /= size;
        z /= size;
    };
    back_substitute();
    for (Eigen::Index k = 0; k + 1 < n; ++k) {
        if (exchanged[static_cast<size_t>(k)]) {
            std::swap(y[k], y[k + 1]);
            std::swap(z[k], z[k + 1]);
        }
        y[k + 1] -= factor_re[k] * y[k] - factor_im[k] * z[k];
        z[k + 1] -= factor_re[k] * z[k] + factor_im[k] * y[k];
    }
    back_substitute();
    Eigen::VectorXcd x(n);
    x.real() = scale_.cwiseProduct(q_ * y);
    x.imag() = scale_.cwiseProduct(q_ * z);
    return x.normalized();
}

}  // namespace ringquell
