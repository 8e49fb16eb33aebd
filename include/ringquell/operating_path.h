// The operating points at which a case is judged: the explicit ones, and the default walk along the switching
// locus.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/device.h"

namespace ringquell {

/// "turn_on" or "turn_off", as cases, points and JSON have it.
const char* edge_name(Edge edge);

/// One point of the path with everything the network needs to know about it.
struct OperatingPoint {
    std::string name;
    std::string stage;    // "turn_on current"; the name itself for an explicit point
    std::string variant;  // " at 125 degC", what tells the walks of one case apart; empty where there is one
    Edge edge = Edge::turn_on;
    double vds_v = 0;
    double current_a = 0;  // of the whole switch
    Complementary complementary = Complementary::blocking;
    double junction_temperature_degc = 25;
    std::vector<double> position_temperatures_degc;  // empty: all are at that
    double complementary_capacitance_f = 0;          // of the power loop's
    std::vector<double> leg_capacitance_f;           // of each position's leg; empty where there is none
    double gate_current_a = 0;  // for the beads' saturation, of one position (their mean)
    bool gate_current_estimated = false;
    /// Must meet what is asked as if the edge stood still here ("held"). False: its stage is judged in
    /// passing, by what grows in the time that it takes (growth.h).
    bool judged = true;
    bool cgd_below_table = false;       // a die's drain-gate voltage lies below its capacitance table
    std::vector<DeviceValues> devices;  // one where all positions are alike, else N
    const DeviceValues& device(int position) const {  // from 0
        return devices[devices.size() == 1 ? 0 : static_cast<size_t>(position)];
    }
};

/// Do two points of one case have the same small-signal network? A walk with fixed values has few different
/// ones.
bool same_network(const OperatingPoint& a, const OperatingPoint& b);

struct OperatingPath {
    std::vector<OperatingPoint> points;
    std::vector<Warning> warnings;
};

/// All points of a case: the explicit ones, then the default walk where it asks for one; all of it again for
/// every junction temperature (with more than one the names end in ` at 125 degC`), and where a channel gives
/// no `output_slope` for each of the assumed ones (names of all but the first end in `, output_slope 0.005 /V
/// assumed`).
///
/// Default walk, for each edge, `steps` points a stage, both ends included: current transfer at the bus
/// voltage with the complementary device conducting, in equal steps up to the load current, and before its
/// first point one more at the threshold, "turn_on current 0", where the current, gm and gds are 0 (not with
/// fixed values, which have no threshold); voltage transfer at the load current with it blocking, vds in
/// geometric steps from the on-state voltage to the bus voltage; up to the peak current where one is given.
///
/// A cascode's voltage transfer has the MOSFET at `drive.high`, carrying the load current (src/statics.h says
/// how the JFET does). Two more stages are its own: `turn_off onset 1`, the least vds at which the MOSFET is
/// saturated at the load current in the static state; and the plateau of both edges, both dice saturated
/// there, in geometric steps from where that begins to the bus voltage. Its current transfer, peak and
/// plateau are judged in passing, unless `require.judge_held` names them or nothing tells how long they last
/// (fixed values without `path.durations`).
///
/// Device values: of fixed channels as given; else the exact derivatives at the static solution
/// (src/statics.h). A die's cgs and cds are those at its own drain-source voltage, its cgd that at its
/// drain-gate voltage, the complementary device's at bus voltage − vds. Outside a table its end holds, and a
/// warning says so once.
///
/// The gate current, for the saturation of beads, is the point's own or else estimated: (drive level of the
/// edge − gate voltage) over the resistances that it meets at DC: driver, gate and Kelvin resistor, beads,
/// chip. A driver that positions share carries the sum of theirs. Without a gate voltage (fixed values) or a
/// drive it is 0, with a warning where a bead would need it.
///
/// InputError where a point cannot exist: its key is the point, the text says why.
OperatingPath operating_path(const Case& input);
/// The first of these points that has this name, without computing the others; empty: there is none.
std::optional<OperatingPoint> operating_point(const Case& input, const std::string& name);

}  // namespace ringquell
