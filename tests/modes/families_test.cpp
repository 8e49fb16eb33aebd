// Modes keep their names along a parameter and a path.
#include "ringquell/families.h"

#include <algorithm>

#include "ringquell/operating_path.h"
#include "support/case_text.h"
#include "support/relative.h"
#include "test_paths.h"

using namespace ringquell;

namespace {

/// Points of one stage that differ in the gate-source capacitance alone.
std::vector<OperatingPoint> along_capacitance(const Case& input, double from_f, double to_f, int steps) {
    std::vector<OperatingPoint> out(static_cast<size_t>(steps) + 1, operating_path(input).points.front());
    for (int k = 0; k <= steps; ++k)
        for (DeviceValues& device : out[static_cast<size_t>(k)].devices)
            device.mosfet.cgs_f = from_f + (to_f - from_f) * k / steps;
    return out;
}

}  // namespace

TEST_CASE("along a stage every family holds an eigenvalue of each point's spectrum, by small steps") {
    const Case input = case_text::read(case_text::base);
    const std::vector<OperatingPoint> points = along_capacitance(input, 1e-9, 6e-9, 20);
    const Families families = follow_path(input, points);
    REQUIRE(!families.families.empty());
    CHECK(families.families.front().name == "differential 1");
    ModeSolver solver(input);
    for (size_t k = 0; k < points.size(); ++k) {
        const Modes modes = solver.solve(points[k]);
        for (const Family& f : families.families) {
            if (!f.eigenvalues[k]) continue;
            double nearest = 1;
            for (const Mode& m : modes.modes)
                if (m.kind == f.kind)
                    nearest = std::min(nearest, relative_difference(m.eigenvalue, *f.eigenvalues[k]));
            CHECK(nearest < 1e-8);
        }
    }
}

TEST_CASE("a pair that meets the real axis keeps its name, and its end and its return are told") {
    // One gate loop, L·di/dt + R·i + q/C: from C = 4·L/R² on it no longer oscillates.
    const Case input =
        case_text::read(case_text::base, {"device.channel={transconductance: 0 S, output_conductance: 0 S}"});
    const Families there = follow_path(input, along_capacitance(input, 0.2e-9, 40e-9, 40));
    const Families again = follow_path(input, along_capacitance(input, 40e-9, 0.2e-9, 40));
    const auto has = [](const Families& f, FamilyChange change) {
        return std::any_of(f.events.begin(), f.events.end(),
                           [&](const FamilyEvent& e) { return e.change == change; });
    };
    CHECK(has(there, FamilyChange::becomes_real));
    CHECK(has(again, FamilyChange::becomes_oscillating));
    CHECK(!there.unsure);
    for (const FamilyEvent& e : there.events) {
        if (e.change != FamilyChange::becomes_real) continue;
        const auto& family = *std::find_if(there.families.begin(), there.families.end(),
                                           [&](const Family& f) { return f.name == e.family; });
        REQUIRE(family.eigenvalues[e.from]);
        REQUIRE(family.eigenvalues[e.to]);
        CHECK(family.eigenvalues[e.from]->imag() > 0);
        CHECK(family.eigenvalues[e.to]->imag() == 0);
    }
}

TEST_CASE("two modes that cross in frequency keep their names at every point, whatever the steps") {
    const auto followed = [](int steps) {
        const Case input = read_case(std::string(RINGQUELL_CASES) + "/ropeway-first.yaml",
                                     {"operation.path.steps=" + std::to_string(steps)});
        return std::pair{operating_path(input).points, follow_path(input, operating_path(input).points)};
    };
    const auto [coarse_points, coarse] = followed(24);
    const auto [fine_points, fine] = followed(48);
    const auto crossing = std::find_if(coarse.events.begin(), coarse.events.end(), [](const FamilyEvent& e) {
        return e.change == FamilyChange::crosses && e.family == "differential 2";
    });
    REQUIRE(crossing != coarse.events.end());
    CHECK(crossing->other == "differential 3");
    CHECK(!coarse.unsure);
    // The growing one is the same by name at the points that both walks have: every second of the current
    // stages.
    int compared = 0;
    for (size_t p = 0; p < coarse_points.size(); ++p)
        for (size_t q = 0; q < fine_points.size(); ++q) {
            if (coarse_points[p].stage != fine_points[q].stage ||
                relative_difference(coarse_points[p].current_a, fine_points[q].current_a) > 1e-12 ||
                relative_difference(coarse_points[p].vds_v, fine_points[q].vds_v) > 1e-12)
                continue;
            ++compared;
            CHECK(relative_difference(*coarse.families[2].eigenvalues[p], *fine.families[2].eigenvalues[q]) <
                  1e-9);
        }
    CHECK(compared >= 48);
}
