// By what factor a disturbance grows in one passage: closed forms, and that it does not hang on the steps.
#include "ringquell/growth.h"

#include <algorithm>
#include <cmath>

#include "case_text.h"
#include "relative.h"
#include "ringquell/check.h"
#include "test_paths.h"

using namespace ringquell;

namespace {

Case demonstration(const std::string& name, const std::vector<std::string>& settings = {}) {
    return read_case(std::string(RINGQUELL_CASES) + "/" + name + ".yaml", settings);
}

CheckResult followed(const Case& input) {
    CheckOptions options;
    options.size_gate_resistor = false;
    return check(input, options);
}

}  // namespace

TEST_CASE("a constant growth rate multiplies by exp(sigma t), and a decaying one by 1") {
    CHECK_RELATIVE(growth_exponent({1e-9, 2e-9, 7e-9}, {3e7, 3e7, 3e7}), 3e7 * 7e-9, 1e-14);
    CHECK(growth_exponent({1e-9, 7e-9}, {-3e7, -3e7}) == 0);
    // From -1 to 1 in one unit of time: the part above zero.
    CHECK_RELATIVE(growth_exponent({0, 1}, {-1.0, 1.0}), 0.25, 1e-14);
    // Decay in between is lost only as far as it was gained, and a disturbance may begin after it.
    CHECK_RELATIVE(growth_exponent({0, 1, 2, 3}, {1.0, 1.0, -9.0, 2.0}), 1.05, 1e-14);
    CHECK_RELATIVE(growth_exponent({0, 1, 2}, {1.0, std::nullopt, 1.0}), 0.0, 1e-14);
}

TEST_CASE("a path on which nothing changes grows by exp(sigma t) of its given time") {
    const std::string text = case_text::replaced(
        case_text::base,
        "  points:\n    - {name: fall, edge: turn_on, vds: 400 V, current: 200 A, complementary: blocking}\n",
        "  path: {steps: 7, durations: {turn_on current: 30 ns, turn_off current: 11 ns}}\n");
    const Case input =
        case_text::read(text, {"gate_path.resistor=0.5 ohm", "device.channel.output_conductance=10 mS"});
    const CheckResult result = followed(input);
    double sigma[2] = {0, 0};
    for (const PointResult& r : result.points)
        for (const Mode& m : r.modes.modes)
            if (r.point.stage.ends_with("current") && m.kind == ModeKind::differential) {
                double& most = sigma[r.point.edge == Edge::turn_on ? 0 : 1];
                most = std::max(most, m.eigenvalue.real());
            }
    REQUIRE(sigma[0] > 0);
    int found = 0;
    for (const PassingGrowth& g : result.passing_growth.list) {
        if (!g.stage.ends_with("current") || g.family.starts_with("common")) continue;
        const bool on = g.stage.starts_with("turn_on");
        CHECK_RELATIVE(g.factor(), std::exp(sigma[on ? 0 : 1] * (on ? 30e-9 : 11e-9)), 1e-9);
        CHECK(!g.estimated);
        ++found;
    }
    CHECK(found == 2);
}

TEST_CASE("halving the steps changes the growth of the demonstration case by less than 1 %") {
    const CheckResult coarse = followed(demonstration("ropeway-first")),
                      fine = followed(demonstration("ropeway-first", {"operation.path.steps=48"}));
    REQUIRE(coarse.passing_growth.list.size() == 4);
    for (const PassingGrowth& g : coarse.passing_growth.list) {
        const auto same =
            std::find_if(fine.passing_growth.list.begin(), fine.passing_growth.list.end(),
                         [&](const PassingGrowth& f) { return f.stage == g.stage && f.family == g.family; });
        REQUIRE(same != fine.passing_growth.list.end());
        CHECK_RELATIVE(same->factor(), g.factor(), 0.01);
        CHECK(g.estimated);
        CHECK(g.factor() > 1.1);
    }
}

TEST_CASE("a cured case grows nowhere, and one of fixed values says that its times are not known") {
    CHECK(followed(demonstration("ropeway-cured")).passing_growth.list.empty());
    const CheckResult cascode = followed(demonstration("ice-rink-cascode"));
    CHECK(cascode.passing_growth.list.empty());
    REQUIRE(cascode.passing_growth.notes.size() == 1);
    CHECK(case_text::contains(cascode.passing_growth.notes.front(), "start of turn-off"));
}
