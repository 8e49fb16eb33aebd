#include <Eigen/QR>

#include "numerics/decompositions.h"

namespace ringquell::internal {

Eigen::MatrixXcd orthonormal(const Eigen::MatrixXcd& m) {
    return Eigen::HouseholderQR<Eigen::MatrixXcd>(m).householderQ() *
           Eigen::MatrixXcd::Identity(m.rows(), m.cols());
}

}  // namespace ringquell::internal
