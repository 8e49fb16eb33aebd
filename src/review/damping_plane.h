// The least damping over the whole plane of drain-source voltage and current, around the switching path.
#pragma once

#include <string>
#include <vector>

#include "review/least_modes.h"
#include "ringquell/check.h"

namespace ringquell::internal {

struct PlaneCell {
    double vds_v = 0, current_a = 0;
    LeastModes least;
};

struct DampingPlane {
    Edge edge = Edge::turn_on;
    double junction_temperature_degc = 25;
    std::vector<std::vector<PlaneCell>> rows;  // one current each, rising; cells rise in voltage
    std::string not_shown;                     // why there are no rows
};

/// Rows are voltage transfers as operating_path() walks them, at twelfths of the load current up to the peak
/// current: from the on-state voltage of each current to the bus voltage, the complementary device blocking
/// (a cascode: MOSFET fully on). At the temperature of the worst point. Fixed device values hold everywhere.
/// One plane for each edge of `result`.
std::vector<DampingPlane> damping_planes(const Case& input, const CheckResult& result);

}  // namespace ringquell::internal
