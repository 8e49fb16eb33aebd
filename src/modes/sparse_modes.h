// Modes of a large uneven network: those that a verdict needs, and the proof that none of them is missed.
#pragma once

#include "modes/sparse_mode_solver.h"
#include "ringquell/modes.h"
#include "ringquell/network.h"

namespace ringquell::internal {

/// What a verdict needs: every mode in the requirement's band below the larger of the two damping targets,
/// every growing eigenvalue from 1 Hz to 1 THz, and those neighbours in the band that came to light. Fills
/// Modes::proof.
Modes sparse_modes(SparseModeSolver& solver, const Network& network, const Case& input);

}  // namespace ringquell::internal
