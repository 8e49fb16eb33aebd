// The units that the numerics work in.
#pragma once

namespace ringquell::internal {

/// The eigensolver's units: time in ns, inductance in nH, capacitance in nF, resistance in ohm; voltages and
/// currents as they are. Values of boards then lie within a few decades of one.
inline constexpr double natural = 1e9;

}  // namespace ringquell::internal
