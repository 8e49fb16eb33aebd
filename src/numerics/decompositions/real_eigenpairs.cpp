#include "numerics/decompositions.h"
#include "numerics/real_schur.h"
#include "ringquell/error.h"

namespace ringquell::internal {

Eigenpairs eigenpairs(const Eigen::MatrixXd& a) {
    const Eigen::EigenSolver<Eigen::MatrixXd> solver(a);
    if (solver.info() != Eigen::Success) throw NumericalError("the eigenvalue iteration did not converge");
    return {solver.eigenvalues(), solver.eigenvectors()};
}

}  // namespace ringquell::internal
