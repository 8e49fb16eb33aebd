#include "numerics/explicit_form.h"

#include <Eigen/LU>
#include <cmath>
#include <limits>

namespace ringquell::internal {

double explicit_form(const ReducedPencil& pencil, const double* values, Eigen::MatrixXd& e,
                     Eigen::MatrixXd& a) {
    const auto n = static_cast<Eigen::Index>(pencil.kept.size());
    e.setZero(n, n);
    a.setZero(n, n);
    for (const ReducedEntry& entry : pencil.e) e(entry.row, entry.column) = values[entry.slot];
    for (const ReducedEntry& entry : pencil.a) a(entry.row, entry.column) = values[entry.slot];
    if (n == 0) return 1;
    const auto power_of_two = [](double x) {
        return x > 0 && std::isfinite(x) ? std::exp2(-std::ilogb(x)) : 1.0;
    };
    for (Eigen::Index i = 0; i < n; ++i) {
        const double s = power_of_two(e.row(i).cwiseAbs().maxCoeff());
        e.row(i) *= s;
        a.row(i) *= s;
    }
    Eigen::VectorXd columns(n);  // x = columns·x'
    for (Eigen::Index j = 0; j < n; ++j) {
        columns[j] = power_of_two(e.col(j).cwiseAbs().maxCoeff());
        e.col(j) *= columns[j];
    }
    const Eigen::PartialPivLU<Eigen::MatrixXd> lu(e);
    const double reciprocal = lu.rcond();
    a = lu.solve(a);
    a = columns.asDiagonal() * a;
    return reciprocal > 0 ? 1 / reciprocal : std::numeric_limits<double>::infinity();
}

}  // namespace ringquell::internal
