#include "review/measured_modes.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "devices/find_point.h"
#include "modes/ranking.h"

namespace ringquell::internal {

Mode measured_mode(const MeasuredRing& ring) {
    const double omega = 2 * std::numbers::pi * ring.frequency_hz;
    const double zeta = ring.damping_ratio.value_or(0);
    Mode out;
    out.eigenvalue = {ring.decay_s ? -1 / *ring.decay_s : -omega * zeta / std::sqrt(1 - zeta * zeta), omega};
    return out;
}

std::vector<size_t> measured_points(const Case& input, const std::vector<OperatingPoint>& points) {
    std::vector<size_t> out;
    for (size_t i = 0; i < input.measured.size(); ++i) {
        const MeasuredRing& ring = input.measured[i];
        out.push_back(find_point(points, ring.at, ring.place, fmt::format("measured[{}].at", i + 1)));
    }
    return out;
}

std::vector<MeasuredMode> measured_modes(const Case& input, const std::vector<size_t>& at,
                                         const std::vector<PointResult>& points) {
    std::vector<MeasuredMode> out;
    for (size_t i = 0; i < at.size(); ++i) {
        MeasuredMode one{input.measured[i], at[i], measured_mode(input.measured[i]), {}};
        const Modes& there = points[at[i]].modes;
        std::vector<Mode> ringing;
        if (there.complete_list)
            std::copy_if(there.modes.begin(), there.modes.end(), std::back_inserter(ringing),
                         [](const Mode& m) { return m.oscillates(); });
        if (const Mode* nearest = nearest_to(ringing, one.seen.eigenvalue)) one.nearest = *nearest;
        out.push_back(std::move(one));
    }
    return out;
}

}  // namespace ringquell::internal
