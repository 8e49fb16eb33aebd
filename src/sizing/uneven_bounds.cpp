#include "sizing/uneven_bounds.h"

#include <fmt/format.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <chrono>
#include <limits>
#include <numbers>

#include "devices/gate_current.h"
#include "modes/ranking.h"
#include "network/cache.h"
#include "numerics/pair_pencil.h"

namespace ringquell::internal {

namespace {

/// The affine family of one point's network.
std::optional<ResistiveFamily> family_of(const Case& input, const OperatingPoint& point) {
    NetworkCache networks(input);
    NetworkCache::Entry& entry = networks.at(point, {Block::whole, true});
    const std::vector<size_t> resistors = gate_resistor_elements(entry.network, input, point.edge);
    return resistive_family(
        [&](double ohm) {
            for (const size_t i : resistors) entry.set(i, ohm);
            return entry.reduced().a();
        },
        input.require.gate_resistance_limit_ohm);
}

/// What the pencils of one edge cost: the cube of the largest order times the number of networks, of which a
/// processor does some 300 million in a second; fewer where the matrices are too large for its caches.
double work(double order, size_t networks) {
    constexpr double large = 800;
    return order * order * order * (1 + order / large) * static_cast<double>(networks);
}

/// Most of it that may be spent on one edge; a check has two.
double budget(Effort effort) {
    switch (effort) {
        case Effort::adaptive:
            return 0;
        case Effort::quick:
            return 3e8;
        case Effort::thorough:
            return 8e9;
        case Effort::complete:
            break;
    }
    return std::numeric_limits<double>::infinity();
}

const char* const not_affine =
    "the gate resistor does not enter the equations in proportion, as where it meets no inductance before a "
    "capacitance";

/// How large the pencils are, or why they are not solved.
struct Asked {
    double order = 0;
    std::string why_not;
};
Asked asked_of(const Case& input, const OperatingPoint& point, Effort effort, size_t networks) {
    if (effort == Effort::adaptive) return {0, "sampling was asked for"};
    try {
        const auto family = family_of(input, point);
        if (!family) return {0, not_affine};
        const auto order = static_cast<double>(family->order());
        if (work(order, networks) <= budget(effort)) return {order, {}};
        return {order, fmt::format("finding every bound of this uneven layout takes eigenvalue problems of "
                                   "order {:.0f} at {} points, which is more work than is done unasked",
                                   order, networks)};
    } catch (const NumericalError& error) {
        return {0, error.what()};
    }
}

}  // namespace

UnevenBounds::UnevenBounds(const ModeSolver& solver, const std::vector<OperatingPoint>& points, Edge edge,
                           Effort effort, Acceptable& out)
    : found_(points.size()), why_not_(points.size()) {
    const Case& input = solver.input();
    const std::vector<size_t> uneven = distinct_points(points, [&](const OperatingPoint& point) {
        return point.edge == edge && point.judged && !solver.alike(point) &&
               !bias_moves_with_resistor(input, point);
    });
    if (uneven.empty()) return;
    const auto start = std::chrono::steady_clock::now();
    const Asked asked = asked_of(input, points[uneven.front()], effort, uneven.size());
    if (!asked.why_not.empty()) {
        for (const size_t k : uneven) why_not_[k] = asked.why_not;
        return;
    }
    tbb::parallel_for(size_t{0}, uneven.size(), [&](size_t k) { solve(input, points, uneven[k]); });
    out.pencil_order = static_cast<int>(asked.order);
    out.pencil_points = static_cast<int>(uneven.size());
    out.pencil_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

void UnevenBounds::solve(const Case& input, const std::vector<OperatingPoint>& points, size_t index) {
    constexpr double to_rad_per_ns = 2 * std::numbers::pi / natural;
    const Requirement& require = input.require;
    const std::vector<double> radii{to_rad_per_ns * require.band_low_hz,
                                    to_rad_per_ns * require.band_high_hz};
    try {
        const auto family = family_of(input, points[index]);
        if (!family) {
            why_not_[index] = not_affine;
            return;
        }
        const double limit = require.gate_resistance_limit_ohm;
        std::vector<double> found = pair_boundary_values(*family, require.differential_damping, radii, limit);
        if (require.passive_damping) {
            const auto more = pair_boundary_values(*family, *require.passive_damping, {}, limit);
            found.insert(found.end(), more.begin(), more.end());
            std::sort(found.begin(), found.end());
        }
        found_[index] = std::move(found);
    } catch (const NumericalError& error) {
        // The points' own verdict does not hang on this; the point is sampled.
        why_not_[index] = fmt::format("the eigenvalue problem of the bounds failed at \"{}\": {}",
                                      points[index].name, error.what());
    }
}

}  // namespace ringquell::internal
