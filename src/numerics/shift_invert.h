// Eigenpairs of λ·E·x = A·x near a shift. Natural units
// (units.h): λ in 1/ns.
#pragma once

#include <Eigen/SparseCore>
#include <complex>
#include <vector>

#include "numerics/cluster.h"
#include "numerics/sparse_lu.h"

namespace ringquell::internal {

/// Up to `wanted` eigenpairs, those next to the shift first, by Arnoldi iteration (Spectra) on the real
/// operator Re[(σE − A)⁻¹·E]: it has the pencil's vectors and the eigenvalues ½·(1/(σ − λ) + 1/(σ̄ − λ));
/// infinite eigenvalues become zero. λ then comes from one complex solve, and what does not satisfy
/// (σE − A)⁻¹E·x = x/(σ − λ) to 1e-7 is left out. Of a multiple eigenvalue a single Krylov space sees one vector.
std::vector<RitzPair> shift_invert(PencilLu& lu, const Eigen::SparseMatrix<double>& e,
                                   std::complex<double> shift, int wanted);

}  // namespace ringquell::internal
