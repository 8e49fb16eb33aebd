// SmallEigen's vectors: inverse iteration in the Hessenberg form.
#include <algorithm>
#include <cmath>
#include <limits>

#include "numerics/decompositions.h"
#include "numerics/small_eigen.h"

namespace ringquell::internal {

namespace {

/// H − λ of an upper Hessenberg H by elimination with row exchanges of neighbours. Rows are contiguous, real
/// and imaginary parts apart, so that the loops vectorise.
class ShiftedHessenberg {
  public:
    ShiftedHessenberg(const Eigen::MatrixXd& h, std::complex<double> lambda)
        : re_(h),
          im_(Rows::Zero(h.rows(), h.rows())),
          factor_re_(h.rows()),
          factor_im_(h.rows()),
          inverse_re_(h.rows()),
          inverse_im_(h.rows()),
          exchanged_(static_cast<size_t>(h.rows()), false) {
        const Eigen::Index n = h.rows();
        re_.diagonal().array() -= lambda.real();
        im_.diagonal().array() -= lambda.imag();
        tiny_ = std::numeric_limits<double>::epsilon() *
                std::max(h.cwiseAbs().maxCoeff(), std::numeric_limits<double>::min());
        for (Eigen::Index k = 0; k + 1 < n; ++k) eliminate(k);
        invert(n - 1);
    }

    /// U·y = y, then unit length; y + jz is the vector.
    void back_substitute(Eigen::VectorXd& y, Eigen::VectorXd& z) const {
        for (Eigen::Index j = y.size() - 1; j >= 0; --j) {
            const Eigen::Index rest = y.size() - 1 - j;
            const double a =
                y[j] - (re_.row(j).tail(rest).dot(y.tail(rest)) - im_.row(j).tail(rest).dot(z.tail(rest)));
            const double b =
                z[j] - (re_.row(j).tail(rest).dot(z.tail(rest)) + im_.row(j).tail(rest).dot(y.tail(rest)));
            y[j] = a * inverse_re_[j] - b * inverse_im_[j];
            z[j] = a * inverse_im_[j] + b * inverse_re_[j];
        }
        const double size = std::hypot(y.norm(), z.norm());
        y /= size;
        z /= size;
    }
    void forward(Eigen::VectorXd& y, Eigen::VectorXd& z) const {
        for (Eigen::Index k = 0; k + 1 < y.size(); ++k) {
            if (exchanged_[static_cast<size_t>(k)]) {
                std::swap(y[k], y[k + 1]);
                std::swap(z[k], z[k + 1]);
            }
            y[k + 1] -= factor_re_[k] * y[k] - factor_im_[k] * z[k];
            z[k + 1] -= factor_re_[k] * z[k] + factor_im_[k] * y[k];
        }
    }

  private:
    using Rows = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

    void invert(Eigen::Index k) {
        if (std::abs(re_(k, k)) + std::abs(im_(k, k)) < tiny_) {
            re_(k, k) = tiny_;
            im_(k, k) = 0;
        }
        const double square = re_(k, k) * re_(k, k) + im_(k, k) * im_(k, k);
        inverse_re_[k] = re_(k, k) / square;
        inverse_im_[k] = -im_(k, k) / square;
    }
    void eliminate(Eigen::Index k) {
        const Eigen::Index rest = re_.rows() - k;
        if (std::abs(re_(k + 1, k)) > std::abs(re_(k, k)) + std::abs(im_(k, k))) {
            re_.row(k).tail(rest).swap(re_.row(k + 1).tail(rest));
            im_.row(k).tail(rest).swap(im_.row(k + 1).tail(rest));
            exchanged_[static_cast<size_t>(k)] = true;
        }
        invert(k);
        const double below_re = re_(k + 1, k), below_im = im_(k + 1, k);
        const double f = below_re * inverse_re_[k] - below_im * inverse_im_[k],
                     g = below_re * inverse_im_[k] + below_im * inverse_re_[k];
        factor_re_[k] = f;
        factor_im_[k] = g;
        re_.row(k + 1).tail(rest - 1) -= f * re_.row(k).tail(rest - 1) - g * im_.row(k).tail(rest - 1);
        im_.row(k + 1).tail(rest - 1) -= f * im_.row(k).tail(rest - 1) + g * re_.row(k).tail(rest - 1);
    }

    Rows re_, im_;
    Eigen::VectorXd factor_re_, factor_im_, inverse_re_, inverse_im_;
    std::vector<bool> exchanged_;
    double tiny_ = 0;
};

}  // namespace

Eigen::MatrixXcd SmallEigen::eigenspace(std::complex<double> lambda, int count) const {
    // (H − λ)·y = b twice, on all columns, which are kept apart between.
    const Eigen::Index n = h_.rows();
    const ShiftedHessenberg shifted(h_, lambda);
    // A start without symmetry, so that it is not orthogonal to what is sought.
    Eigen::MatrixXd y(n, count), z = Eigen::MatrixXd::Zero(n, count);  // real and imaginary part
    for (int c = 0; c < count; ++c)
        for (Eigen::Index i = 0; i < n; ++i)
            y(i, c) = 1.0 + 0.37 * std::sin(1.7 * static_cast<double>(i + 1) * (1 + 0.6 * c));
    const auto each_column = [&](bool forward) {
        for (int c = 0; c < count; ++c) {
            Eigen::VectorXd a = y.col(c), b = z.col(c);
            if (forward) shifted.forward(a, b);
            shifted.back_substitute(a, b);
            y.col(c) = a;
            z.col(c) = b;
        }
        if (count == 1) return;
        Eigen::MatrixXcd both(n, count);
        both.real() = y;
        both.imag() = z;
        both = orthonormal(both);
        y = both.real();
        z = both.imag();
    };
    each_column(false);
    each_column(true);
    if (count > 1) each_column(true);
    Eigen::MatrixXcd x(n, count);
    x.real() = scale_.asDiagonal() * (q_ * y);
    x.imag() = scale_.asDiagonal() * (q_ * z);
    if (count > 1) return orthonormal(x);
    return x / x.norm();
}

}  // namespace ringquell::internal
