#include "modes/examine.h"

#include <algorithm>
#include <cmath>

#include "modes/gain_feed.h"
#include "modes/probe.h"

namespace ringquell::internal {

Network network_of(const Case& input, const OperatingPoint& point, bool alike, ModeKind kind) {
    if (!alike) return build_network(input, point);
    return build_network(input, point,
                         {kind == ModeKind::common ? Block::common : Block::differential, false});
}

bool certainly_grows(const FoundMode& found) {
    constexpr double sure = 10;
    return grows(found.mode) && -found.mode.damping_ratio() > sure * found.damping_uncertainty;
}

FoundMode examine(const Case& input, const OperatingPoint& point, bool alike, const Mode& mode,
                  size_t point_index) {
    FoundMode out{point_index, mode, {}};
    const Network network = network_of(input, point, alike, mode.kind);
    const EigenProbe pair = probe(network, mode.eigenvalue);
    double uncertainty = pair.uncertainty;
    // Of a loop without loss the solver's rounding, absolute beside the fastest mode, can make one that
    // grows.
    if (grows(mode)) uncertainty = std::max(uncertainty, std::abs(pair.eigenvalue - mode.eigenvalue));
    out.damping_uncertainty = uncertainty / std::abs(mode.eigenvalue);
    out.damping_by_gain = gain_parts(network, pair.eigenvalue, pair.x).all;
    return out;
}

}  // namespace ringquell::internal
