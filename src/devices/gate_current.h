// The DC current into a gate, estimated from the drive and the resistances, for the saturation of beads.
#pragma once

#include <optional>

#include "ringquell/operating_path.h"

namespace ringquell::internal {

/// A bead's DC resistance; 0 without one.
double bead_ohm(const std::optional<Bead>& bead);
/// The resistances of the leads that the gate current passes.
double lead_ohm(const Package& package);
/// The gate resistor of the edge as its current meets it: with the diode's branch beside it where the diode
/// conducts (its forward voltage left out).
double gate_resistor_ohm(const GatePath& path, Edge edge);

/// Mean over the positions, in A, without sign. The gate of position i is at v_i, behind r_i (gate resistor
/// or what its diode makes of it, beads, Kelvin resistor, leads, chip); a driver of level u and resistance R that
/// all share carries the sum: Σi = Σ((u − v_i)/r_i) / (1 + R·Σ(1/r_i)). Empty without a drive, without known
/// gate voltages, or without resistance.
std::optional<double> estimated_gate_current_a(const Case& input, const OperatingPoint& point);

/// Has any position a bead whose inductance depends on the current?
bool has_saturating_bead(const Case& input);

/// Does the point's network depend on the gate resistor through the bias of a bead, too? So it does where a
/// bead saturates and the case does not give the gate current of the point.
bool bias_moves_with_resistor(const Case& input, const OperatingPoint& point);
/// The point with the gate current that operating_path() finds with the resistors of `input`, the device
/// values as they are: they do not depend on those resistors.
OperatingPoint with_own_gate_current(const Case& input, OperatingPoint point);
/// As same_network, whatever gate resistor is fitted to both.
bool same_network_with_any_resistor(const OperatingPoint& a, const OperatingPoint& b);

}  // namespace ringquell::internal
