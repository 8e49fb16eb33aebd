// Shares and slopes of `explain`: sums, and central differences of whole solutions.
#include "ringquell/explain.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "ringquell/numbers.h"
#include "support/files.h"
#include "support/relative.h"

using namespace ringquell;
using namespace test_files;

namespace {

const ExplainedElement& row(const ExplainedMode& mode, const std::string& key) {
    const auto it = std::find_if(mode.elements.begin(), mode.elements.end(),
                                 [&](const ExplainedElement& e) { return e.share.key == key; });
    REQUIRE(it != mode.elements.end());
    return *it;
}

}  // namespace

TEST_CASE("explain: energy shares sum to one and damping shares to the damping ratio") {
    for (const char* name : {"star-4-mosfet", "pair-with-bead", "pair-cascode", "ladder-3-coupled"}) {
        CAPTURE(name);
        const Explanation e = explain(read_case(reference + name + ".yaml"), {false});
        REQUIRE(!e.modes.empty());
        for (const ExplainedMode& mode : e.modes) {
            CHECK(std::abs(mode.energy_sum - 1) < 1e-9);
            CHECK(std::abs(mode.damping_sum - mode.found.mode.damping_ratio()) < 1e-9);
        }
    }
}

TEST_CASE("explain: the damping's slope is that of central differences") {
    for (const char* name : {"star-4-mosfet.yaml", "ladder-3-coupled.yaml"}) {
        CAPTURE(name);
        const Case input = read_case(reference + name);
        const Explanation e = explain(input, {false});
        const ExplainedMode& mode = e.modes.front();
        const bool uneven = std::string(name).starts_with("ladder");
        for (const std::string& key :
             uneven ? std::vector<std::string>{"source_path[2].inductance", "kelvin_path[1].inductance",
                                               "gate_path[3].inductance"}
                    : std::vector<std::string>{"source_path.inductance", "device.capacitance.cgd",
                                               "device.channel.transconductance", "device.gate_resistance"}) {
            CAPTURE(key);
            const ElementShare& share = row(mode, key).share;
            const double step = 1e-5;
            const auto damping = [&](double factor) {
                Case changed = input;
                for (double* v : find_number(changed, key).values) *v *= factor;
                const OperatingPath path = operating_path(changed);
                ModeSolver solver(changed);
                const auto modes = solver.solve(path.points[mode.found.point]).modes;
                return std::min_element(modes.begin(), modes.end(),
                                        [&](const Mode& a, const Mode& b) {
                                            return std::abs(a.eigenvalue - mode.found.mode.eigenvalue) <
                                                   std::abs(b.eigenvalue - mode.found.mode.eigenvalue);
                                        })
                    ->damping_ratio();
            };
            CHECK_RELATIVE(share.damping_slope, (damping(1 + step) - damping(1 - step)) / (2 * step), 1e-5);
        }
    }
}
