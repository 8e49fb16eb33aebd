// The damping over the gate resistor: each value is a check of its own.
#include "review/gate_sweep.h"

#include <doctest/doctest.h>

#include <algorithm>

#include "ringquell/acceptable.h"
#include "support/files.h"
#include "support/relative.h"

using namespace ringquell;
using namespace ringquell::internal;
using namespace test_files;

TEST_CASE("sweep: each value is what a check of the case with that resistor says") {
    for (const char* name : {"ropeway-first.yaml", "mine-hoist-bus.yaml"}) {
        CAPTURE(name);
        Case input = read_case(cases + name);
        input.operation.path->steps = 4;
        const CheckResult result = checked(input);
        for (const GateSweep& sweep : sweep_gate_resistors(input, result)) {
            CHECK(sweep.points == sweep.points_of_edge);
            REQUIRE(sweep.values.size() > 40);
            CHECK(sweep.values.front().ohm == 0);
            CHECK(sweep.values.back().ohm == input.require.gate_resistance_limit_ohm);
            for (size_t k = 0; k < sweep.values.size(); k += 9) {
                const SweptValue& value = sweep.values[k];
                Case fitted = input;
                fit_gate_resistor(fitted, sweep.edge, value.ohm);
                CheckOptions plain;
                plain.size_gate_resistor = plain.follow_modes = false;
                double differential = 2, common = 2;
                int growing = 0;
                bool passes = true;
                for (const PointResult& r : check(fitted, plain).points) {
                    if (r.point.edge != sweep.edge) continue;
                    for (const Mode& mode : r.modes.modes) {
                        growing += grows(mode);
                        passes = passes && !misses(mode, input.require);
                        if (!mode.oscillates() || !in_band(mode, input.require)) continue;
                        double& least = mode.kind == ModeKind::common ? common : differential;
                        least = std::min(least, mode.damping_ratio());
                    }
                }
                CHECK(value.passes == passes);
                CHECK(value.growing == growing);
                CHECK_RELATIVE(value.differential ? value.differential->damping_ratio : 2.0, differential,
                               1e-9);
                CHECK_RELATIVE(value.common ? value.common->damping_ratio : 2.0, common, 1e-9);
            }
        }
    }
}

TEST_CASE("sweep: at a window's end the least damping is the one that is asked") {
    const Case input = read_case(cases + "ropeway-first.yaml");
    const CheckResult result = checked(input);
    int ends = 0;
    for (const GateSweep& sweep : sweep_gate_resistors(input, result))
        for (const Window& w : result.gate_resistance.at(sweep.edge).acceptable.windows)
            for (const SweptValue& value : sweep.values)
                if (value.ohm == w.low && w.low_bound == Bound::damping) {
                    CHECK_RELATIVE(value.differential->damping_ratio, input.require.differential_damping,
                                   1e-6);
                    ++ends;
                }
    CHECK(ends == 2);
}

#ifndef RINGQUELL_SANITIZED  // minutes there
TEST_CASE("sweep: a large uneven layout is swept at its hardest points, and says so") {
    Case input = read_case(cases + "mine-hoist-bus.yaml");
    while (input.n() < 24) input.positions.push_back(input.positions.front());
    for (auto& bus : input.buses) {
        bus->inductance_h.resize(23, bus->inductance_h.front());
        bus->resistance_ohm.resize(23, bus->resistance_ohm.front());
    }
    input.operation.path->steps = 8;
    CheckOptions options;
    options.follow_modes = options.size_gate_resistor = false;
    CheckResult result = check(input, options);
    EdgeSizing sizing;
    sizing.acceptable.key = "gate_path.resistor";
    sizing.fitted_lowest_ohm = sizing.fitted_highest_ohm = 6.8;
    result.gate_resistance[Edge::turn_off] = sizing;
    const auto sweeps = sweep_gate_resistors(input, result);
    REQUIRE(sweeps.size() == 1);
    CHECK(sweeps[0].points < sweeps[0].points_of_edge);
    CHECK(sweeps[0].points >= 1);
    CHECK(sweeps[0].values.size() >= 8);
    CHECK(std::any_of(sweeps[0].values.begin(), sweeps[0].values.end(),
                      [](const SweptValue& v) { return v.ohm == 6.8; }));
}
#endif
