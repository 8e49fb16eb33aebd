#include <Eigen/Eigenvalues>

#include "numerics/decompositions.h"
#include "ringquell/error.h"

namespace ringquell::internal {

SymmetricEigenpairs symmetric_eigenpairs(const Eigen::MatrixXd& a) {
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(a);
    if (solver.info() != Eigen::Success) throw NumericalError("the eigenvalue iteration did not converge");
    return {solver.eigenvalues(), solver.eigenvectors()};
}

}  // namespace ringquell::internal
