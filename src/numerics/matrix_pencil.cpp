#include "numerics/matrix_pencil.h"

#include <algorithm>
#include <cmath>

#include "numerics/decompositions.h"

namespace ringquell::internal {

namespace {

template <class Vector>
auto hankel_square(const Vector& y, Eigen::Index length) {
    using Matrix = Eigen::Matrix<typename Vector::Scalar, Eigen::Dynamic, Eigen::Dynamic>;
    Matrix hankel(y.size() - length, length + 1);
    for (Eigen::Index j = 0; j <= length; ++j) hankel.col(j) = y.segment(j, hankel.rows());
    return Matrix(hankel.adjoint() * hankel);
}

Eigen::VectorXd roots_falling(const Eigen::VectorXd& squares) {
    return squares.reverse().cwiseMax(0).cwiseSqrt();
}

}  // namespace

MatrixPencil::MatrixPencil(const Eigen::VectorXd& y, Eigen::Index pencil_length)
    : rows_(y.size() - pencil_length) {
    const SymmetricEigenpairs pairs = symmetric_eigenpairs(hankel_square(y, pencil_length));
    sigma_ = roots_falling(pairs.values);
    real_vectors_ = pairs.vectors.rowwise().reverse();
}

MatrixPencil::MatrixPencil(const Eigen::VectorXcd& y, Eigen::Index pencil_length)
    : real_(false), rows_(y.size() - pencil_length) {
    const HermitianEigenpairs pairs = hermitian_eigenpairs(hankel_square(y, pencil_length));
    sigma_ = roots_falling(pairs.values);
    complex_vectors_ = pairs.vectors.rowwise().reverse().conjugate();
}

Eigen::Index MatrixPencil::order() const {
    const auto columns = static_cast<double>(sigma_.size()), rows = static_cast<double>(rows_);
    const double beta = std::min(columns, rows) / std::max(columns, rows);
    const double omega = ((0.56 * beta - 0.95) * beta + 1.82) * beta + 1.43;
    const Eigen::Index rank = std::min(sigma_.size(), rows_);
    constexpr double rounding = 1e-7;  // square root of what YᴴY has, with a margin
    const double least = std::max(omega * sigma_(rank / 2), rounding * sigma_(0));
    return std::min((sigma_.array() > least).count(), sigma_.size() - 1);
}

std::vector<std::complex<double>> MatrixPencil::poles(Eigen::Index order) const {
    if (order == 0) return {};
    const Eigen::Index length = sigma_.size() - 1;
    Eigen::VectorXcd out;
    if (real_) {
        const Eigen::MatrixXd first = real_vectors_.topLeftCorner(length, order);
        const Eigen::MatrixXd second = real_vectors_.block(1, 0, length, order);
        const Eigen::MatrixXd square = first.transpose() * first, moved = first.transpose() * second;
        const Eigen::MatrixXd step = solve(square, moved);
        if (!step.allFinite()) return {};
        out = eigenpairs(step).values;
    } else {
        const Eigen::MatrixXcd first = complex_vectors_.topLeftCorner(length, order);
        const Eigen::MatrixXcd second = complex_vectors_.block(1, 0, length, order);
        const Eigen::MatrixXcd step =
            solve(product_of_adjoint(first, first), product_of_adjoint(first, second));
        if (!step.allFinite()) return {};
        out = eigenpairs(step).values;
    }
    return {out.begin(), out.end()};
}

}  // namespace ringquell::internal
