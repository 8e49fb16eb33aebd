#include "numerics/decompositions.h"

namespace ringquell::internal {

Eigen::MatrixXcd product(const Eigen::MatrixXd& a, const Eigen::MatrixXcd& b) {
    return a * b;
}

Eigen::MatrixXcd product(const Eigen::MatrixXcd& a, const Eigen::MatrixXd& b) {
    return a * b;
}

}  // namespace ringquell::internal
