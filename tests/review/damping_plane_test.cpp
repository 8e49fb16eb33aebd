// The damping over voltage and current, and why a case may have no such plane.
#include "review/damping_plane.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <string>

#include "ringquell/check.h"
#include "support/files.h"
#include "support/relative.h"

using namespace ringquell;
using namespace ringquell::internal;
using namespace test_files;

TEST_CASE("plane: its row at the load current is the voltage transfer of the walk") {
    for (const char* name : {"ropeway-first.yaml", "mine-hoist-bus.yaml"}) {
        CAPTURE(name);
        Case input = read_case(cases + name);
        input.operation.path->steps = 16;
        CheckOptions options;
        options.follow_modes = options.size_gate_resistor = false;
        const CheckResult result = check(input, options);
        const auto planes = damping_planes(input, result);
        REQUIRE(planes.size() == 2);
        for (const DampingPlane& plane : planes) {
            CHECK(plane.not_shown.empty());
            REQUIRE(plane.rows.size() == 12);
            const auto& row = plane.rows.back();
            REQUIRE(row.size() == 16);
            size_t k = 0;
            for (const PointResult& r : result.points) {
                if (r.point.edge != plane.edge ||
                    r.point.stage != std::string(edge_name(plane.edge)) + " voltage")
                    continue;
                CHECK_RELATIVE(row[k].vds_v, r.point.vds_v, 1e-12);
                CHECK_RELATIVE(row[k].current_a, r.point.current_a, 1e-12);
                double least = 2;
                for (const Mode& mode : r.modes.modes)
                    if (mode.kind == ModeKind::differential && mode.oscillates() &&
                        in_band(mode, input.require))
                        least = std::min(least, mode.damping_ratio());
                REQUIRE(row[k].least.differential.has_value());
                CHECK_RELATIVE(row[k].least.differential->damping_ratio, least, 1e-9);
                ++k;
            }
            CHECK(k == 16);
        }
    }
}

TEST_CASE("plane: a case without bus voltage has none, and says why") {
    Case input = read_case(std::string(RINGQUELL_TEST_DATA) + "/reference/star-4-mosfet.yaml");
    input.operation.bus_voltage_v.reset();
    CheckOptions options;
    options.follow_modes = options.size_gate_resistor = false;
    for (const DampingPlane& plane : damping_planes(input, check(input, options))) {
        CHECK(plane.rows.empty());
        CHECK(plane.not_shown ==
              "the case gives no bus voltage or no load current, so there is no plane to cover");
    }
}
