// The small-signal values of a device at one operating point.
#pragma once

#include <string>
#include <vector>

#include "ringquell/case.h"

namespace ringquell {

/// What a die is in a small-signal network.
struct DieValues {
    double transconductance_s = 0;
    double output_conductance_s = 0;
    double cgs_f = 0;
    double cgd_f = 0;
    double cds_f = 0;
    double output_resistance_ohm = 0;  // in series with cds (MOSFET) or cgd (a cascode's JFET)
    bool operator==(const DieValues&) const = default;
};

/// One device at one operating point. `jfet` and `jfet_gate_resistance_ohm` are a cascode's alone.
struct DeviceValues {
    DieValues mosfet;
    DieValues jfet;
    double gate_resistance_ohm = 0;
    double jfet_gate_resistance_ohm = 0;
    // The static solution, where the channel is a curve or a formula (reported, not part of the network).
    bool solved = false;
    double current_a = 0;        // this device's share
    double gate_voltage_v = 0;   // gate-source voltage of the (MOSFET's) channel
    double inner_voltage_v = 0;  // a cascode's MOSFET drain-source voltage
    bool operator==(const DeviceValues&) const = default;
};

/// Drain current of a channel in A at gate-source voltage `vgs_v`, drain-source voltage `vds_v` >= 0, with its exact
/// derivatives. Formula: I = gain·((vgs − threshold)/1 V)^exponent·(1 + output_slope·vds)·tanh(vds/knee) (tanh knee after
/// Curtice, IEEE Trans. MTT-28, 1980), zero below threshold.
struct ChannelState {
    double current_a = 0;
    double transconductance_s = 0;
    double output_conductance_s = 0;
};
ChannelState channel_state(const FormulaChannel& channel, double vgs_v, double vds_v);

}  // namespace ringquell
