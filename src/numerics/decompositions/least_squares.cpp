#include <Eigen/QR>

#include "numerics/decompositions.h"

namespace ringquell::internal {

Eigen::VectorXcd least_squares(const Eigen::MatrixXcd& a, const Eigen::VectorXcd& b) {
    return a.colPivHouseholderQr().solve(b);
}

}  // namespace ringquell::internal
