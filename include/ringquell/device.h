// The small-signal values of a device at one operating point.
#pragma once

#include <string>
#include <vector>

#include "ringquell/case.h"

namespace ringquell {

/// In which part of its characteristic a die is. `unknown`: of a channel given by fixed values.
enum class DieRegion { unknown, off, ohmic, saturated, avalanche };

/// The regions as a report names them: "unknown", "off", "ohmic", "saturated", "avalanche".
const char* region_name(DieRegion region);

/// A die is ohmic while tanh(vds/knee) is below this share of its saturated value 1, saturated from there on:
/// at 1.95 knee voltages 4 % of the current is missing.
inline constexpr double saturated_share = 0.96;

/// What a die is in a small-signal network.
struct DieValues {
    double transconductance_s = 0;
    double output_conductance_s = 0;
    double cgs_f = 0;
    double cgd_f = 0;
    double cds_f = 0;
    double output_resistance_ohm = 0;       // in series with cds (MOSFET) or cgd (a cascode's JFET)
    DieRegion region = DieRegion::unknown;  // reported, not part of the network
    bool operator==(const DieValues&) const = default;
};

/// One device at one operating point. `mosfet` is the one die of every kind but a cascode; `jfet` and `jfet_gate_resistance_ohm` are a cascode's alone.
struct DeviceValues {
    DieValues mosfet;
    DieValues jfet;
    double gate_resistance_ohm = 0;
    double jfet_gate_resistance_ohm = 0;
    // The static solution, where the channel is a curve or a formula (reported, not part of the network).
    bool solved = false;
    double current_a = 0;            // this device's share
    double gate_voltage_v = 0;       // gate-source voltage of the (MOSFET's) channel
    double inner_voltage_v = 0;      // a cascode's MOSFET drain-source voltage
    double jfet_gate_voltage_v = 0;  // gate-source voltage of a cascode's JFET
    DeviceKind kind = DeviceKind::mosfet;
    bool operator==(const DeviceValues&) const = default;
};

}  // namespace ringquell
