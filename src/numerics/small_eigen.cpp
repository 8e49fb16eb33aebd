#include "numerics/small_eigen.h"

#include <algorithm>
#include <cmath>

#include "ringquell/error.h"

namespace ringquell::internal {

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

std::vector<std::vector<std::complex<double>>> equal_groups(
    const std::vector<std::complex<double>>& eigenvalues) {
    std::vector<std::vector<std::complex<double>>> out;
    for (std::complex<double> lambda : eigenvalues) {
        if (std::abs(lambda.imag()) <= real_pair * std::abs(lambda)) lambda.imag(0);
        if (lambda.imag() < 0) continue;
        const auto group = std::find_if(out.begin(), out.end(), [&](const auto& g) {
            return std::abs(g.front() - lambda) <= equal_eigenvalues * std::abs(lambda);
        });
        if (group == out.end())
            out.push_back({lambda});
        else
            group->push_back(lambda);
    }
    return out;
}

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

}  // namespace ringquell::internal
