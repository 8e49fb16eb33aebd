#include <Eigen/Cholesky>

#include "numerics/decompositions.h"

namespace ringquell::internal {

Eigen::VectorXd solve_symmetric(const Eigen::MatrixXd& a, const Eigen::VectorXd& b) {
    return a.ldlt().solve(b);
}

}  // namespace ringquell::internal
