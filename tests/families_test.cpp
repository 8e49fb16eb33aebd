// Modes keep their names along a parameter and a path.
#include "ringquell/families.h"

#include "case_text.h"
#include "relative.h"

using namespace ringquell;

TEST_CASE("along a parameter every family holds an eigenvalue of each value's spectrum, by small steps") {
    const Case input = case_text::read(case_text::base);
    const OperatingPoint point = operating_path(input).points.front();
    std::vector<double> values;
    for (int k = 0; k <= 20; ++k) values.push_back(2e-9 + 0.5e-9 * k);
    const Families families = follow_parameter(input, point, "gate_path.inductance", values);
    REQUIRE(!families.families.empty());
    CHECK(families.families.front().name == "differential 1");
    for (size_t k = 0; k < values.size(); ++k) {
        Case changed = input;
        for (Position& p : changed.positions) p.gate_path.inductance_h = values[k];
        const Modes modes = ModeSolver(changed).solve(point);
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
