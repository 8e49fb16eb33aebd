#include <Eigen/Eigenvalues>

#include "numerics/decompositions.h"

namespace ringquell::internal {

HermitianEigenpairs hermitian_eigenpairs(const Eigen::MatrixXcd& a) {
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXcd> solver(a);
    return {solver.eigenvalues(), solver.eigenvectors()};
}

}  // namespace ringquell::internal
