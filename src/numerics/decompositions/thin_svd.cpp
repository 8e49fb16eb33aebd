#include <Eigen/SVD>

#include "numerics/decompositions.h"

namespace ringquell::internal {

ThinSvd thin_svd(const Eigen::MatrixXd& a) {
    const Eigen::JacobiSVD<Eigen::MatrixXd> svd(a, Eigen::ComputeThinU | Eigen::ComputeThinV);
    return {svd.matrixU(), svd.singularValues(), svd.matrixV()};
}

}  // namespace ringquell::internal
