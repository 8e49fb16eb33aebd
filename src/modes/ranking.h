// Which modes and which points are the hardest, and which points are worth looking at.
#pragma once

#include <algorithm>
#include <functional>
#include <vector>

#include "ringquell/judge.h"

namespace ringquell::internal {

/// Oscillates within the band, so that damping is asked of it.
bool rings_in_band(const Mode& mode, const Requirement& require);
/// ζ less what is asked of the mode; negative where it misses.
double damping_margin(const Mode& mode, const Requirement& require);

/// Of the modes of a kind that ring in the band the one with the least damping ratio; null where none rings.
const Mode* least_damped(const std::vector<Mode>& modes, ModeKind kind, const Requirement& require);
/// The same by the margin to what is asked of it.
const Mode* nearest_to_target(const std::vector<Mode>& modes, ModeKind kind, const Requirement& require);
/// The mode whose eigenvalue is nearest, as the same one at a value close by; null where there are no modes.
const Mode* nearest_to(const std::vector<Mode>& modes, std::complex<double> eigenvalue);
/// Does one of them grow?
bool any_grows(const std::vector<Mode>& modes);

using ModeTest = std::function<bool(const Mode& mode)>;
/// The least damping ratio of the modes that count; 1 where none does.
double least_damping(const std::vector<Mode>& modes, const ModeTest& counts);

/// Sorts indices of results by how hard these are, the least first; equally hard ones keep their order.
void hardest_first(std::vector<size_t>& order, const std::vector<PointResult>& results,
                   const std::function<double(const PointResult& result)>& hardness);

inline const OperatingPoint& point_of(const OperatingPoint& point) {
    return point;
}
inline const OperatingPoint& point_of(const PointResult& result) {
    return result.point;
}

/// For each point (or result) that the filter takes the first one taken whose network is the same, which is
/// itself where none is before it; of the others their own index. A walk with fixed values has few different
/// networks, mostly neighbours.
template <class Points, class Filter>
std::vector<size_t> first_of_network(const Points& points, const Filter& filter) {
    std::vector<size_t> out(points.size()), distinct;
    for (size_t i = 0; i < points.size(); ++i) {
        out[i] = i;
        if (!filter(point_of(points[i]))) continue;
        const auto before = std::find_if(distinct.rbegin(), distinct.rend(), [&](size_t k) {
            return same_network(point_of(points[k]), point_of(points[i]));
        });
        if (before == distinct.rend())
            distinct.push_back(i);
        else
            out[i] = *before;
    }
    return out;
}

/// Of the points (or results) that the filter takes those with a network that none before them has.
template <class Points, class Filter>
std::vector<size_t> distinct_points(const Points& points, const Filter& filter) {
    const std::vector<size_t> first = first_of_network(points, filter);
    std::vector<size_t> out;
    for (size_t i = 0; i < points.size(); ++i)
        if (first[i] == i && filter(point_of(points[i]))) out.push_back(i);
    return out;
}

/// A filter: what is judged as if the edge stood still there.
inline bool judged_held(const OperatingPoint& point) {
    return point.judged;
}

}  // namespace ringquell::internal
