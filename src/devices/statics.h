// Where devices in parallel stand when they carry a current together: gate voltages, shares, and the inner
// nodes of cascodes. All devices have formulas or curves (ParallelDevices::has_statics), all are of one kind.
//
// MOSFETs share one gate-source voltage and one drain-source voltage; the current divides as their curves
// say.
//
// Cascodes. The JFET's gate is tied to the MOSFET's source, so its gate-source voltage is −v, v the MOSFET's
// drain-source voltage (the inner voltage), and both dice carry one current:
//     I_jfet(w − v, vds − v) = I_mosfet(vgs, v),   w = 0.
// The left side falls with v and the right side rises, so v is unique. It cannot rise above the MOSFET's
// avalanche voltage, where one is given: there the MOSFET carries what the JFET asks, and the current of the
// device cannot fall below the JFET's at that gate voltage.
//
// w is the drop across the JFET's gate resistor. In a static state it is 0. In the fast voltage transfer it
// is not: the MOSFET is fully on (its gate at `drive.high`), v is a fraction of a volt, and w = 0 would let
// the JFET carry its saturation current, many times the load's. What holds the JFET at its plateau is its own
// gate current, which charges cgd through the JFET's gate resistor. So in the transfer the devices carry the
// load current, the MOSFETs are ohmic at `drive.high`, and w ≤ 0 is what makes it so; unlike cascodes share w
// as they share the rest. At the on-state voltage w is 0, and the transfer begins in the static state.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "devices/prepared_device.h"

namespace ringquell::internal {

/// The voltages of one device at a point.
struct DeviceBias {
    double current_a = 0;
    double gate_voltage_v = 0;       // gate-source, of the MOSFET die
    double inner_voltage_v = 0;      // drain-source, of a cascode's MOSFET die
    double jfet_gate_voltage_v = 0;  // gate-source, of a cascode's JFET: w − inner voltage
    bool avalanche = false;          // the inner voltage is held by the MOSFET's avalanche
};

/// What is asked, and the name it has in errors.
struct StaticsQuery {
    double vds_v = 0;
    double current_a = 0;  // of all devices together
    std::string point;
    Place place;
};

/// One device at a gate voltage (and, for a cascode, a drop w at the JFET's gate). `beyond`: the JFET's curve
/// ends before the inner node balances, and its end is taken.
DeviceBias device_bias(const PreparedDevice& device, double vgs_v, double vds_v, double jfet_gate_drop_v,
                       bool& beyond);

/// The bias of every distinct device where they carry the current together at one gate voltage. InputError,
/// whose key is the point, where there is none: it says which die cannot carry the current, or not so little
/// of it, and why.
std::vector<DeviceBias> static_bias(const ParallelDevices& devices, const StaticsQuery& query);

/// The same in the fast transfer of cascodes, see above. The on-state voltage must lie below vds.
std::vector<DeviceBias> transfer_bias(const ParallelDevices& devices, double gate_high_v,
                                      const StaticsQuery& query);

/// The drain-source voltage, up to query.vds_v, at which the devices carry the current at a gate voltage.
/// InputError where that is not enough.
double on_state_voltage(const ParallelDevices& devices, double gate_high_v, const StaticsQuery& query);

/// The least drain-source voltage from low_v to query.vds_v at which the MOSFET of every cascode is saturated
/// in the static state (`both`: its JFET, too); empty where it is not even at query.vds_v.
std::optional<double> saturation_onset(const ParallelDevices& devices, bool both, double low_v,
                                       const StaticsQuery& query);

/// The highest gate voltage up to `gate_high_v` that every curve of the MOSFETs knows.
double known_gate_voltage(const ParallelDevices& devices, double gate_high_v);

}  // namespace ringquell::internal
