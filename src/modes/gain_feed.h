// What the devices' gain does in the power balance of a mode.
#pragma once

#include <Eigen/Core>
#include <complex>

#include "ringquell/network.h"

namespace ringquell::internal {

/// Every element of A has its part value·Re((lᵀx)*(rᵀx))/(|λ|·xᴴEx) in the damping ratio; all parts sum to
/// it.
struct GainParts {
    /// Of the transconductances; negative where they feed the mode.
    double all = 0;
    /// Of those that feed it, each alone (die by die, so that dice do not cancel), made positive.
    double feed = 0;
};

/// `eigenvalue` in rad/s, x all unknowns of the network, any scale.
GainParts gain_parts(const Network& network, std::complex<double> eigenvalue, const Eigen::VectorXcd& x);

}  // namespace ringquell::internal
