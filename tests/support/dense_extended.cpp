#include <Eigen/Eigenvalues>
#include <Eigen/LU>

#include "support/dense.h"

namespace dense {

Eigen::Matrix<std::complex<Extended>, Eigen::Dynamic, 1> inverted_eigenvalues(const ExtendedMatrix& e,
                                                                              const ExtendedMatrix& a,
                                                                              Extended shift) {
    const ExtendedMatrix inverse = (a - shift * e).fullPivLu().solve(e);
    return Eigen::EigenSolver<ExtendedMatrix>(inverse, false).eigenvalues();
}

}  // namespace dense
