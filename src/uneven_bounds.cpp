#include "uneven_bounds.h"

#include <tbb/parallel_for.h>

#include <algorithm>
#include <chrono>
#include <limits>
#include <numbers>

#include "network_cache.h"
#include "pair_pencil.h"

namespace ringquell {

namespace {

/// The affine family of one point's network.
std::optional<ResistiveFamily> family_of(const Case& input, const OperatingPoint& point) {
    NetworkCache networks(input);
    NetworkCache::Entry& entry = networks.at(point, {Block::whole, true});
    std::vector<size_t> resistors;
    for (size_t i = 0; i < entry.network.elements.size(); ++i) {
        const Element& e = entry.network.elements[i];
        if (e.position > 0 && e.name == gate_resistor_element(input, point.edge, e.position - 1))
            resistors.push_back(i);
    }
    return resistive_family(
        [&](double ohm) {
            for (const size_t i : resistors) entry.set(i, ohm);
            return entry.reduced().a();
        },
        input.require.gate_resistance_limit_ohm);
}

/// Most that may be spent on one edge: the cube of the largest order times the number of networks, of which
/// a processor does some 400 million in a second.
double budget(Effort effort) {
    switch (effort) {
        case Effort::adaptive:
            return 0;
        case Effort::quick:
            return 2e8;
        case Effort::thorough:
            return 3e10;
        case Effort::complete:
            break;
    }
    return std::numeric_limits<double>::infinity();
}

}  // namespace

UnevenBounds::UnevenBounds(const ModeSolver& solver, const std::vector<OperatingPoint>& points, Edge edge,
                           Effort effort, Acceptable& out)
    : found_(points.size()) {
    const auto start = std::chrono::steady_clock::now();
    const Case& input = solver.input();
    std::vector<size_t> uneven;  // the first point of each network
    for (size_t i = 0; i < points.size(); ++i) {
        if (points[i].edge != edge || !points[i].judged || solver.alike(points[i])) continue;
        if (std::none_of(uneven.begin(), uneven.end(),
                         [&](size_t k) { return same_network(points[k], points[i]); }))
            uneven.push_back(i);
    }
    if (uneven.empty() || effort == Effort::adaptive) return;
    const auto first = family_of(input, points[uneven.front()]);
    if (!first) return;
    const auto order = static_cast<double>(first->order());
    if (order * order * order * static_cast<double>(uneven.size()) > budget(effort)) return;
    constexpr double to_rad_per_ns = 2 * std::numbers::pi / natural;
    const std::vector<double> radii{to_rad_per_ns * input.require.band_low_hz,
                                    to_rad_per_ns * input.require.band_high_hz};
    tbb::parallel_for(size_t{0}, uneven.size(), [&](size_t k) {
        const auto family = family_of(input, points[uneven[k]]);
        if (family)
            found_[uneven[k]] = pair_boundary_values(*family, input.require.differential_damping, radii,
                                                     input.require.gate_resistance_limit_ohm);
    });
    out.pencil_order = static_cast<int>(order);
    out.pencil_points = static_cast<int>(uneven.size());
    out.pencil_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

}  // namespace ringquell
