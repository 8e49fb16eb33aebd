#include "numerics/shift_invert.h"

#include <Spectra/GenEigsSolver.h>

#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <Eigen/QR>
#include <algorithm>
#include <cmath>

#include "ringquell/error.h"

namespace ringquell::internal {

namespace {

/// y = Re[(σE − A)⁻¹·E·x] on the unknowns that E has columns for (the others follow from them), for Spectra.
class ShiftInvertOperator {
  public:
    using Scalar = double;
    ShiftInvertOperator(PencilLu& lu, const Eigen::SparseMatrix<double>& e)
        : lu_(lu), e_(e), work_(e.rows()) {
        for (int j = 0; j < e.cols(); ++j)
            if (Eigen::SparseMatrix<double>::InnerIterator(e, j)) seen_.push_back(j);
    }
    Eigen::Index rows() const { return static_cast<Eigen::Index>(seen_.size()); }
    Eigen::Index cols() const { return rows(); }
    void perform_op(const double* x_in, double* y_out) const {
        apply(x_in);
        for (size_t k = 0; k < seen_.size(); ++k) y_out[k] = work_[seen_[k]].real();
    }
    /// The whole of (σE − A)⁻¹·E·x for complex x, and what of it E sees.
    Eigen::VectorXcd whole(const Eigen::VectorXcd& x) const {
        apply(x.data());
        return work_;
    }
    Eigen::VectorXcd seen(const Eigen::VectorXcd& all) const { return all(seen_); }

  private:
    template <class T>
    void apply(const T* x) const {
        work_.setZero();
        for (size_t k = 0; k < seen_.size(); ++k)
            for (Eigen::SparseMatrix<double>::InnerIterator it(e_, seen_[k]); it; ++it)
                work_[it.row()] += it.value() * x[k];
        lu_.solve(work_);
    }
    PencilLu& lu_;
    const Eigen::SparseMatrix<double>& e_;
    mutable Eigen::VectorXcd work_;
    std::vector<int> seen_;
};

/// Numbers without symmetry in (−1, 1), the same on every machine.
class Scatter {
  public:
    double next() {
        state_ = state_ * 6364136223846793005ULL + 1442695040888963407ULL;
        return static_cast<double>(state_ >> 11) * 0x1p-52 - 1;
    }

  private:
    std::uint64_t state_ = 20240229;
};

void factor_beside(PencilLu& lu, std::complex<double> lambda, double distance) {
    if (!lu.factor(lambda * (1 + distance)) && !lu.factor(lambda * (1 + 1e3 * distance)))
        throw NumericalError("the pencil is singular in the neighbourhood of an eigenvalue");
}

}  // namespace

std::vector<RitzPair> shift_invert(PencilLu& lu, const Eigen::SparseMatrix<double>& e,
                                   std::complex<double> shift, int wanted) {
    std::vector<RitzPair> out;
    ShiftInvertOperator op(lu, e);
    const auto n = static_cast<int>(op.rows());
    const int asked = std::min(wanted, n - 2), space = std::min(2 * asked + 8, n);
    if (asked < 1) return out;
    factor_beside(lu, shift, 1e-12);
    Spectra::GenEigsSolver<ShiftInvertOperator> solver(op, asked, space);
    // Two applications take the start out of the null space of E.
    Eigen::VectorXd start(n), next(n);
    Scatter scatter;
    for (double& value : start) value = scatter.next();
    op.perform_op(start.data(), next.data());
    op.perform_op(next.data(), start.data());
    start.normalize();
    if (!start.allFinite()) return out;
    solver.init(start.data());
    constexpr int restarts = 12;  // what has not converged by then lies far away, and is for another shift
    constexpr double tolerance = 1e-10, accepted = 1e-7;
    solver.compute(Spectra::SortRule::LargestMagn, restarts, tolerance);
    const Eigen::VectorXcd values = solver.eigenvalues();
    if (values.size() == 0) return out;
    const Eigen::MatrixXcd vectors = solver.eigenvectors();
    for (Eigen::Index k = 0; k < values.size(); ++k) {
        if (values[k].imag() < 0) continue;  // the conjugate of another
        const Eigen::VectorXcd x = vectors.col(k).normalized();
        const Eigen::VectorXcd all = op.whole(x), z = op.seen(all);
        const std::complex<double> quotient = x.dot(z);  // 1/(σ − λ)
        if (!((z - quotient * x).norm() <= accepted * z.norm())) continue;
        const std::complex<double> lambda = shift - 1.0 / quotient;
        if (lambda.imag() < 0)
            out.push_back({std::conj(lambda), all.conjugate().normalized()});
        else
            out.push_back({lambda, all.normalized()});
    }
    return out;
}

namespace {

/// Right and left spaces of `count` eigenvalues that lie together at λ, by inverse iteration; orthonormal.
struct Spaces {
    Eigen::MatrixXcd x, y;
};
Spaces spaces_at(PencilLu& lu, const Eigen::SparseMatrix<double>& e, std::complex<double> lambda, int count) {
    const Eigen::Index n = e.rows();
    // Beside the eigenvalue, so that the factors exist and the solutions keep their digits.
    factor_beside(lu, lambda, count == 1 ? 1e-11 : 1e-9);
    Spaces out{Eigen::MatrixXcd(n, count), Eigen::MatrixXcd(n, count)};
    auto& [x, y] = out;
    Scatter scatter;
    for (Eigen::Index j = 0; j < count; ++j)
        for (Eigen::Index i = 0; i < n; ++i)
            x(i, j) = y(i, j) = std::complex<double>(scatter.next(), 0.3 * scatter.next());
    const auto orthogonal = [count](Eigen::MatrixXcd& m) {
        if (count == 1)
            m.col(0).normalize();
        else
            m = Eigen::HouseholderQR<Eigen::MatrixXcd>(m).householderQ() *
                Eigen::MatrixXcd::Identity(m.rows(), count);
    };
    const int steps = count == 1 ? 3 : 5;
    const Eigen::SparseMatrix<double> transposed = e.transpose();
    Eigen::VectorXcd column;
    for (int step = 0; step < steps; ++step) {
        for (Eigen::Index j = 0; j < count; ++j) {
            column = e * x.col(j);
            lu.solve(column);
            x.col(j) = column;
            column = transposed * y.col(j);
            lu.solve_adjoint(column);
            y.col(j) = column;
        }
        orthogonal(x);
        orthogonal(y);
    }
    return out;
}

}  // namespace

Eigen::MatrixXcd cluster_space(PencilLu& lu, const Eigen::SparseMatrix<double>& e,
                               std::complex<double> lambda, int count) {
    return spaces_at(lu, e, lambda, count).x;
}

std::vector<RitzPair> refine_cluster(PencilLu& lu, const Eigen::SparseMatrix<double>& e,
                                     const Eigen::SparseMatrix<double>& a, std::complex<double> lambda,
                                     int count) {
    const auto [x, y] = spaces_at(lu, e, lambda, count);
    const Eigen::MatrixXcd small_e = y.adjoint() * (e * x), small_a = y.adjoint() * (a * x);
    const Eigen::ComplexEigenSolver<Eigen::MatrixXcd> solver(small_e.partialPivLu().solve(small_a));
    std::vector<RitzPair> out;
    for (Eigen::Index j = 0; j < count; ++j) {
        std::complex<double> value = solver.eigenvalues()[j];
        if (!std::isfinite(value.real()) || !std::isfinite(value.imag())) value = lambda;
        out.push_back({value, (x * solver.eigenvectors().col(j)).normalized()});
    }
    return out;
}

}  // namespace ringquell::internal
