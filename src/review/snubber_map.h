// The least damping over the path as snubbers change: capacitance against resistance.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "review/least_modes.h"
#include "ringquell/check.h"

namespace ringquell::internal {

struct SnubberMap {
    std::vector<double> capacitance_f, resistance_ohm;  // rising
    std::vector<std::vector<LeastModes>> rows;  // one capacitance each; a cell is the least over points
    std::optional<SeriesRlc> fitted;            // of position 1; empty: none is fitted there
    bool differ = false;                        // the positions' snubbers
    double inductance_h = 0;                    // in series, of position 1 or assumed
    size_t points = 0, points_of_path = 0;  // different networks looked at (the hardest), of so many judged
    std::string not_shown;                  // why there are no rows
};

/// A decade to both sides of what position 1 has, in E6 steps, the same snubber at every position (inductances
/// stay); without one from 100 pF to 10 nF and from 1 to 100 ohm, with 5 nH in series (common practice, no
/// source). At the points that are hardest as fitted and at the corners of the map. Of a few uneven positions
/// every second step, from fewer points; of many none. A cell whose numbers fail is empty.
SnubberMap snubber_map(const Case& input, const CheckResult& result);

}  // namespace ringquell::internal
