// Textbook estimates of a commutation: times, energies, gate power, and the voltage that dv/dt induces on a
// held gate. A die's cgd is that at its drain-gate voltage. Estimates, right to some tens of per cent:
// straight-line waveforms, no layout inductance, no recovery charge. Every formula stands in
// docs/estimates.md; all are common practice, and none is calibrated to a measurement.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/operating_path.h"

namespace ringquell {

/// The resistances that the gate current of one position meets, in ohm. A driver that N positions share
/// counts N times, because it carries N gate currents.
struct GateResistances {
    /// What the sizing varies: the gate resistor, or the diode's where the diode conducts.
    double resistor_ohm = 0;
    /// The branch that it stands in: itself, and the diode's on-resistance.
    double branch_ohm = 0;
    /// The gate resistor as the current meets it, the diode's branch beside it included.
    double path_ohm = 0;
    double bead_ohm = 0;    // DC resistance of the beads in gate and Kelvin path
    double kelvin_ohm = 0;  // the Kelvin resistor
    double chip_ohm = 0;    // inside the device, its leads included
    double driver_ohm = 0;  // of the edge, times N where it is shared
    double total_ohm() const { return path_ohm + bead_ohm + kelvin_ohm + chip_ohm + driver_ohm; }
    /// Share of the heat of the whole gate loop that arises in `resistor_ohm`.
    double resistor_heat_share() const;
};
/// t = R·C·ln((V_drive − V_from)/(V_drive − V_to)), in s: a gate capacitance charged or discharged through R
/// from one voltage to another. Empty where the drive never gets there.
std::optional<double> gate_transfer_time_s(double resistance_ohm, double capacitance_f, double drive_v,
                                           double from_v, double to_v);

/// What one edge costs. Empty where it cannot be estimated; `notes` say why. Values of a position are the
/// mean over the positions.
struct SwitchingEstimate {
    Edge edge = Edge::turn_on;
    /// The gate does not set dv/dt: the load current and the JFET's built-in resistor do.
    bool cascode = false;
    GateResistances gate;               // means over the positions
    double input_capacitance_f = 0;     // Ciss at the bus voltage, gate shunt and board capacitance included
    double gate_time_constant_s = 0;    // R·Ciss
    std::optional<double> threshold_v;  // of the gate, the lowest of all devices
    std::optional<double> plateau_v;    // gate voltage that carries the load current at the bus voltage
    /// R·Ciss·ln(…) between threshold and plateau, and what the drive's own ramp takes between them.
    std::optional<double> current_transfer_s;
    /// MOSFET: R·Q_gd/|V_drive − V_plateau|, at least √(2·R·Q_gd/rate) while the drive ramps at that rate.
    /// Cascode: N·Q/I_load + R_jfet·C_gd, gate resistor without influence. At turn-off of either at least
    /// what the load needs to charge outputs, snubbers and complementary devices.
    std::optional<double> voltage_transfer_s;
    std::optional<double> dv_dt_v_per_s;       // V_bus/voltage_transfer_s
    std::optional<double> switching_energy_j;  // ½·V_bus·I_load·(both times), of the whole switch, one edge
    std::optional<double> gate_charge_c;       // of one position, from drive.low to drive.high
    std::optional<double> resistor_power_w;    // ½·Q_g·ΔV·f·share, in one gate resistor, from this edge
    double snubber_loss_w = 0;                 // C·V²·f of one position's snubber, over both edges
    std::vector<std::string> notes;
    /// Both times; empty where either is.
    std::optional<double> transfer_s() const;
};

/// The estimate of one edge with the gate path as it stands in `input`. `points` are of the case: where a
/// fixed capacitance is overridden at points, the one at the edge's highest voltage counts. At the first
/// junction temperature; switching frequency in Hz. Throws only what preparing the devices does.
SwitchingEstimate estimate_switching(const Case& input, const std::vector<OperatingPoint>& points, Edge edge,
                                     double switching_frequency_hz = 20e3);

/// The gate of the device that is held off while dv/dt passes.
struct InducedGate {
    double rise_v = 0;          // above drive.low
    double gate_voltage_v = 0;  // drive.low + rise
    double threshold_v = 0;     // the lowest over the case's junction temperatures
    double held_through_ohm = 0;
    bool shoot_through() const { return gate_voltage_v >= threshold_v; }
};

/// While this switch turns on in `turn_on.voltage_transfer_s`, the other switch of the half bridge, taken as
/// built alike, sees that dv/dt with its gate held at drive.low through the turn-off path of `input`. A
/// cascode's gate sees only its inner node, which moves by the JFET's threshold. Empty where the time or the
/// threshold is not known.
std::optional<InducedGate> induced_gate(const Case& input, const std::vector<OperatingPoint>& points,
                                        const SwitchingEstimate& turn_on);

}  // namespace ringquell
