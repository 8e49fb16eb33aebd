// A = E⁻¹·A of a reduced pencil, with the condition of the scaled E.
#pragma once

#include <Eigen/Core>

#include "numerics/pencil_reduction.h"

namespace ringquell::internal {

/// Fills e and a (n × n) from the tape's values and replaces a by E⁻¹·A. E is equilibrated by powers of two
/// before its condition (1-norm, estimated from the LU factors) is taken. Returns that condition; infinite
/// where E is singular.
double explicit_form(const ReducedPencil& pencil, const double* values, Eigen::MatrixXd& e,
                     Eigen::MatrixXd& a);

}  // namespace ringquell::internal
