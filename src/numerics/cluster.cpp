#include "numerics/cluster.h"

#include <cmath>

#include "numerics/decompositions.h"
#include "numerics/scatter.h"

namespace ringquell::internal {

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
            m = orthonormal(m);
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
    const Eigenpairs small = eigenpairs(solve(small_e, small_a));
    std::vector<RitzPair> out;
    for (Eigen::Index j = 0; j < count; ++j) {
        std::complex<double> value = small.values[j];
        if (!std::isfinite(value.real()) || !std::isfinite(value.imag())) value = lambda;
        out.push_back({value, (x * small.vectors.col(j)).normalized()});
    }
    return out;
}

}  // namespace ringquell::internal
