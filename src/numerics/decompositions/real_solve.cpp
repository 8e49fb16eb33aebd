#include <Eigen/LU>

#include "numerics/decompositions.h"

namespace ringquell::internal {

Eigen::MatrixXd solve(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b) {
    return a.partialPivLu().solve(b);
}

Eigen::VectorXd solve(const Eigen::MatrixXd& a, const Eigen::VectorXd& b) {
    return a.partialPivLu().solve(b);
}

}  // namespace ringquell::internal
