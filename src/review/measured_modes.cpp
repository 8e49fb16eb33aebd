#include "review/measured_modes.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/nearest.h"
#include "modes/ranking.h"

namespace ringquell::internal {

namespace {

/// `; did you mean ...?` where a name is near, else the first and the last point of each stage.
std::string nearest_or_all(const std::string& found, const std::vector<OperatingPoint>& points) {
    std::vector<std::string> names, ends;
    names.reserve(points.size());
    for (size_t i = 0; i < points.size(); ++i) {
        names.push_back(points[i].name);
        const bool first = i == 0 || points[i].stage.empty() || points[i].stage != points[i - 1].stage;
        const bool last =
            i + 1 == points.size() || points[i].stage.empty() || points[i].stage != points[i + 1].stage;
        if (first)
            ends.push_back(names.back());
        else if (last)
            ends.back() += "` to `" + names.back();
    }
    std::string out = "; valid here: ";
    for (size_t k = 0; k < ends.size(); ++k) out += (k ? ", `" : "`") + ends[k] + "`";
    return suggestion_or(found, names, out);
}

}  // namespace

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
        const auto found = std::find_if(points.begin(), points.end(),
                                        [&](const OperatingPoint& p) { return p.name == ring.at; });
        if (found == points.end())
            throw InputError(ring.place, fmt::format("measured[{}].at", i + 1),
                             fmt::format("`{}` is no point of this case's path", ring.at) +
                                 nearest_or_all(ring.at, points));
        out.push_back(static_cast<size_t>(found - points.begin()));
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
