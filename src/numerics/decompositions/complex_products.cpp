#include "numerics/decompositions.h"

namespace ringquell::internal {

Eigen::MatrixXcd product(const Eigen::MatrixXcd& a, const Eigen::MatrixXcd& b) {
    return a * b;
}

Eigen::MatrixXcd product_with_adjoint(const Eigen::MatrixXcd& a, const Eigen::MatrixXcd& b) {
    return a * b.adjoint();
}

Eigen::MatrixXcd product_with_transposed(const Eigen::MatrixXcd& a, const Eigen::MatrixXcd& b) {
    return a * b.transpose();
}

Eigen::MatrixXcd product_of_adjoint(const Eigen::MatrixXcd& a, const Eigen::MatrixXcd& b) {
    return a.adjoint() * b;
}

}  // namespace ringquell::internal
