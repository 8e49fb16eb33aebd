// The operating points at which a case is judged: the explicit ones, and the default walk along the switching locus.
#pragma once

#include <string>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/device.h"

namespace ringquell {

/// One point of the path with everything the network needs to know about it.
struct OperatingPoint {
    std::string name;
    std::string stage;  // "turn_on current"; the name itself for an explicit point
    Edge edge = Edge::turn_on;
    double vds_v = 0;
    double current_a = 0;  // of the whole switch
    Complementary complementary = Complementary::blocking;
    double junction_temperature_degc = 25;
    double complementary_capacitance_f = 0;
    double gate_current_a = 0;          // for the beads' saturation
    bool gate_current_estimated = false;
    bool judged = true;                 // false: shown, but no part of the verdict
    std::vector<DeviceValues> devices;  // one where all positions are alike, else N
    const DeviceValues& device(int position) const {  // from 0
        return devices[devices.size() == 1 ? 0 : static_cast<size_t>(position)];
    }
};

/// Do two points of one case have the same small-signal network? A walk with fixed values has few different ones.
bool same_network(const OperatingPoint& a, const OperatingPoint& b);

struct OperatingPath {
    std::vector<OperatingPoint> points;
    std::vector<Warning> warnings;
};

/// Walks the path of a case. Default walk, for each edge, `steps` points a stage, both ends included: current transfer at the
/// bus voltage with the complementary device conducting; voltage transfer at the load current with it blocking, vds in geometric
/// steps from the on-state voltage to the bus voltage. Throws InputError where a point cannot exist (a current that
/// the channel cannot carry), naming the point.
OperatingPath operating_path(const Case& input);

}  // namespace ringquell
