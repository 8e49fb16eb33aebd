// The case with what a measurement settled.
#pragma once

#include "bench/map_fit.h"

namespace ringquell::internal {

/// The board's numbers at the fit, and tolerances as narrow as the posterior: what the records did not narrow keeps
/// its own, all else is normal with the posterior's standard deviation, correlated as the posterior has it. `before`:
/// the case with the tolerances that the unknowns came from.
Case calibrated_case(const Case& before, UnknownCase& board, const MapFit& fit);

}  // namespace ringquell::internal
