#include "numerics/shift_invert.h"

#include <Spectra/GenEigsSolver.h>

#include <algorithm>

#include "numerics/scatter.h"
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

}  // namespace ringquell::internal
