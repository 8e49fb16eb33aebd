#include "review/damping_plane.h"

#include <algorithm>
#include <cmath>

namespace ringquell::internal {

namespace {

constexpr int columns = 16, rows_to_load = 12;
constexpr int many_uneven = 16;  // positions from which a plane takes minutes

PlaneCell cell(const Modes& modes, const OperatingPoint& point, const Requirement& require) {
    PlaneCell out{point.vds_v, point.current_a, {}, {}, false};
    for (const Mode& mode : modes.modes) {
        out.grows = out.grows || grows(mode);
        if (!mode.oscillates() || !in_band(mode, require)) continue;
        auto& least = mode.kind == ModeKind::common ? out.common : out.differential;
        if (!least || mode.damping_ratio() < *least) least = mode.damping_ratio();
    }
    return out;
}

double temperature_of_worst(const CheckResult& result) {
    const auto& worst = result.worst_differential ? result.worst_differential : result.worst_common;
    return result.points[worst ? worst->point : 0].point.junction_temperature_degc;
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
                                   [](const PointResult& r) { return r.modes.method == Method::blocks; });
    if (!alike && input.n() >= many_uneven)
        return none("with so many positions that are not alike, the plane would take minutes");

    Case walked = input;
    const double load_a = *input.operation.load_current_a;
    walked.operation.points.clear();
    walked.operation.path = Path{};
    walked.operation.path->steps = columns;
    walked.operation.junction_temperatures_degc = {temperature_of_worst(result)};
    double most_a = load_a;
    if (input.operation.path && input.operation.path->peak_current_a)
        most_a = std::max(most_a, *input.operation.path->peak_current_a);
    ModeSolver solver(walked);
    std::string why;
    for (int k = 1; k * load_a / rows_to_load <= most_a * (1 + 1e-9); ++k) {
        walked.operation.load_current_a = k * load_a / rows_to_load;
        solver.case_changed();
        std::vector<OperatingPoint> points;
        try {
            points = operating_path(walked).points;
        } catch (const InputError& error) {
            why = error.what();  // such a current does not exist
            continue;
        }
        for (DampingPlane& plane : out) {
            std::vector<PlaneCell> row;
            std::optional<OperatingPoint> before;
            for (const OperatingPoint& point : points) {
                if (point.edge != plane.edge ||
                    point.stage != std::string(edge_name(plane.edge)) + " voltage")
                    continue;
                if (before && same_network(*before, point)) {
                    row.push_back(row.back());
                    row.back().vds_v = point.vds_v;
                    continue;
                }
                row.push_back(cell(solver.solve(point), point, input.require));
                before = point;
            }
            if (!row.empty()) plane.rows.push_back(std::move(row));
        }
    }
    for (DampingPlane& plane : out)
        if (plane.rows.empty()) plane.not_shown = why.empty() ? "no such point exists" : why;
    return out;
}

}  // namespace ringquell::internal
