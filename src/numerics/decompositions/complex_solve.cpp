#include <Eigen/LU>

#include "numerics/decompositions.h"

namespace ringquell::internal {

Eigen::MatrixXcd solve(const Eigen::MatrixXcd& a, const Eigen::MatrixXcd& b) {
    return a.partialPivLu().solve(b);
}

Eigen::VectorXcd solve(const Eigen::MatrixXcd& a, const Eigen::VectorXcd& b) {
    return a.partialPivLu().solve(b);
}

Eigen::MatrixXcd inverse(const Eigen::MatrixXcd& a) {
    return a.partialPivLu().inverse();
}

}  // namespace ringquell::internal
