#include "numerics/complex_schur.h"
#include "numerics/decompositions.h"
#include "ringquell/error.h"

namespace ringquell::internal {

Eigenpairs eigenpairs(const Eigen::MatrixXcd& a) {
    const Eigen::ComplexEigenSolver<Eigen::MatrixXcd> solver(a);
    if (solver.info() != Eigen::Success) throw NumericalError("the eigenvalue iteration did not converge");
    return {solver.eigenvalues(), solver.eigenvectors()};
}

}  // namespace ringquell::internal
