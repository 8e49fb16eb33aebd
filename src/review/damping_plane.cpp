#include "review/damping_plane.h"

#include <algorithm>
#include <cmath>

#include "modes/effort.h"
#include "sizing/trial.h"

namespace ringquell::internal {

namespace {

constexpr int columns = 16, rows_to_load = 12;

double temperature_of_worst(const CheckResult& result) {
    const auto& worst = result.worst_differential ? result.worst_differential : result.worst_common;
    return result.points[worst ? worst->point : 0].point.junction_temperature_degc;
}

/// The walk that makes a row, but for its current.
void walk_voltage_alone(Case& input, double junction_temperature_degc) {
    input.operation.points.clear();
    input.operation.path = Path{};
    input.operation.path->steps = columns;
    input.operation.junction_temperatures_degc = {junction_temperature_degc};
}

/// The voltage transfer of one edge.
std::vector<PlaneCell> row_of(Trial& walked, Edge edge) {
    std::vector<PlaneCell> out;
    std::optional<OperatingPoint> before;
    for (const OperatingPoint& point : walked.path().points) {
        if (point.edge != edge || point.stage != std::string(edge_name(edge)) + " voltage") continue;
        if (before && same_network(*before, point)) {
            out.push_back(out.back());
            out.back().vds_v = point.vds_v;
            continue;
        }
        out.push_back(
            {point.vds_v, point.current_a, least_modes(walked.modes(point).modes, walked.input().require)});
        before = point;
    }
    return out;
}

}  // namespace

std::vector<DampingPlane> damping_planes(const Case& input, const CheckResult& result) {
    std::vector<DampingPlane> out;
    for (const Edge edge : {Edge::turn_on, Edge::turn_off})
        if (std::any_of(result.points.begin(), result.points.end(),
                        [&](const PointResult& r) { return r.point.edge == edge; }))
            out.push_back({edge, temperature_of_worst(result), {}, {}});
    const auto none = [&](const std::string& why) {
        for (DampingPlane& plane : out) plane.not_shown = why;
        return out;
    };
    if (!input.operation.bus_voltage_v || !input.operation.load_current_a)
        return none("the case gives no bus voltage or no load current, so there is no plane to cover");
    const bool alike = std::all_of(result.points.begin(), result.points.end(),
                                   [](const PointResult& r) { return r.modes.by_blocks(); });
    if (!alike && input.n() >= no_damping_plane_from)
        return none("with so many positions that are not alike, the plane would take minutes");

    Trial walked(input);
    walked.change([&](Case& own) { walk_voltage_alone(own, temperature_of_worst(result)); });
    const double load_a = *input.operation.load_current_a;
    double most_a = load_a;
    if (input.operation.path && input.operation.path->peak_current_a)
        most_a = std::max(most_a, *input.operation.path->peak_current_a);
    std::string why;
    for (int k = 1; k * load_a / rows_to_load <= most_a * (1 + 1e-9); ++k) {
        walked.change([&](Case& own) { own.operation.load_current_a = k * load_a / rows_to_load; });
        try {
            walked.path();
        } catch (const InputError& error) {
            why = error.what();  // such a current does not exist
            continue;
        }
        for (DampingPlane& plane : out) {
            std::vector<PlaneCell> row = row_of(walked, plane.edge);
            if (!row.empty()) plane.rows.push_back(std::move(row));
        }
    }
    for (DampingPlane& plane : out)
        if (plane.rows.empty()) plane.not_shown = why.empty() ? "no such point exists" : why;
    return out;
}

}  // namespace ringquell::internal
