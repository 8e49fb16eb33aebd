// By what factor a disturbance grows in one passage: closed forms, and that it does not hang on the steps.
#include "ringquell/growth.h"

#include <algorithm>
#include <cmath>

#include "ringquell/check.h"
#include "ringquell/report.h"
#include "ringquell/switching.h"
#include "support/case_text.h"
#include "support/relative.h"
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
    for (const Stage& s : result.passages.stages) {
        if (!s.stage.ends_with("current")) continue;
        const bool on = s.edge == Edge::turn_on;
        REQUIRE(s.growth.has_value());
        CHECK(s.family.starts_with("differential"));
        CHECK_RELATIVE(s.growth->factor(), std::exp(sigma[on ? 0 : 1] * (on ? 30e-9 : 11e-9)), 1e-9);
        CHECK_RELATIVE(s.growth->least(), std::pow(s.growth->factor(), 0.25), 1e-12);
        CHECK_RELATIVE(s.growth->most(), std::pow(s.growth->factor(), 2.4), 1e-12);
        CHECK(!s.time_estimated);
        ++found;
    }
    CHECK(found == 2);
}

TEST_CASE("halving the steps changes the growth of the demonstration case by less than 1 %") {
    const CheckResult coarse = followed(demonstration("ropeway-first")),
                      fine = followed(demonstration("ropeway-first", {"operation.path.steps=48"}));
    REQUIRE(coarse.passages.stages.size() == 4);
    for (size_t i = 0; i < 4; ++i) {
        const Stage &a = coarse.passages.stages[i], &b = fine.passages.stages[i];
        CHECK(a.name == b.name);
        CHECK(a.held);
        REQUIRE(a.growth.has_value());
        CHECK_RELATIVE(b.growth->factor(), a.growth->factor(), 0.01);
        CHECK(a.growth->factor() > 1.1);
        CHECK(a.time_estimated);
    }
    for (const Edge edge : {Edge::turn_on, Edge::turn_off}) {
        const EdgeGrowth& whole = coarse.passages.edges.at(edge);
        double product = 1;
        for (const Stage& s : coarse.passages.stages)
            if (s.edge == edge) product *= s.growth->factor();
        CHECK_RELATIVE(whole.growth.factor(), product, 1e-12);
        CHECK(whole.grade == GrowthGrade::unseen);
    }
}

TEST_CASE("a cured case grows nowhere, and explicit points are no stages") {
    const CheckResult cured = followed(demonstration("ropeway-cured"));
    for (const Stage& s : cured.passages.stages) CHECK(s.growth->exponent == 0);
    CHECK(!cured.passages.edges.at(Edge::turn_off).grade);
    CHECK(followed(demonstration("ice-rink-cascode")).passages.stages.empty());
}

TEST_CASE(
    "a cascode whose saturated dice would ring is named with its dwell, and judged by what its passage grows "
    "to") {
    const Case input = demonstration("tunnel-fan-cascode");
    const CheckResult result = followed(input);
    CHECK(result.verdict == Verdict::pass);
    std::vector<std::string> passing;
    for (const Stage& s : result.passages.stages) {
        if (s.held) continue;
        passing.push_back(s.name);
        REQUIRE(s.grows_if_held());
        REQUIRE(s.time_s.has_value());
        CHECK(*s.time_s > 0);
        CHECK(s.passes);
    }
    CHECK(passing == std::vector<std::string>{"turn_on current", "turn_on plateau", "turn_off current",
                                              "turn_off plateau"});
    const std::string text = check_text(result, false);
    for (const std::string& name : passing) CHECK(case_text::contains(text, "\"" + name + "\": -"));
    // Its dwell is R·Ciss·|ln((V_drive − V_th)/(V_drive − V_pl))| of the MOSFET.
    const SwitchingEstimate off = estimate_switching(input, {}, Edge::turn_off);
    const double low = input.operation.drive->low_v;
    CHECK_RELATIVE(*result.passages.stages[4].time_s,
                   off.gate_time_constant_s * std::log((*off.plateau_v - low) / (*off.threshold_v - low)),
                   1e-9);
    // Held, it fails; and so it does where the drive ramps slowly or is turned off softly.
    CHECK(followed(demonstration("tunnel-fan-cascode", {"require.judge_held=[all]"})).verdict ==
          Verdict::fail);
    CHECK(followed(demonstration("tunnel-fan-cascode", {"require.judge_held=[turn_on plateau]"})).verdict ==
          Verdict::fail);
    CHECK(followed(demonstration("tunnel-fan-cascode", {"operation.drive.fall=300 ns"})).verdict ==
          Verdict::fail);
    const CheckResult soft =
        followed(demonstration("tunnel-fan-cascode", {"operation.soft_turn_off={ramp: 1 us}"}));
    CHECK(soft.verdict == Verdict::fail);
    int softly = 0;
    for (const Passage& p : soft.passages.passages)
        if (p.soft) {
            ++softly;
            CHECK(!p.passes());
        }
    CHECK(softly == 1);
}

TEST_CASE(
    "where the limit lies within the range of a passage the integration decides, and until then it fails") {
    Passage p{Edge::turn_on, "", false, {}, Growth{std::log(6.0)}, 10};
    CHECK(p.growth->most() > 10);
    CHECK(!p.passes());
    CHECK(p.integration_decides());
    p.growth->exponent = std::log(2.0);
    CHECK(p.passes());
    CHECK(!p.integration_decides());
    p.growth->exponent = 10;
    CHECK(!p.passes());
    CHECK(!p.integration_decides());
    p.growth.reset();
    CHECK(!p.passes());
}

TEST_CASE("without a known dwell a cascode's stages are judged held") {
    // A drive that never falls below the threshold does not turn off: nothing says how long it takes.
    const CheckResult result = followed(demonstration("tunnel-fan-cascode", {"operation.drive.low=4.8 V"}));
    for (const Stage& s : result.passages.stages)
        CHECK(s.held == (s.edge == Edge::turn_off || s.stage == "turn_on voltage"));
    CHECK(result.verdict == Verdict::fail);
}

TEST_CASE("a ramp of the drive lengthens current and voltage transfer as the contract has it") {
    const Case step = demonstration("ropeway-first"),
               ramp = demonstration("ropeway-first", {"operation.drive.rise=1 us"});
    const SwitchingEstimate a = estimate_switching(step, {}, Edge::turn_on),
                            b = estimate_switching(ramp, {}, Edge::turn_on);
    const double swing = step.operation.drive->high_v - step.operation.drive->low_v;
    CHECK_RELATIVE(*b.current_transfer_s - *a.current_transfer_s,
                   1e-6 * (*a.plateau_v - *a.threshold_v) / swing, 1e-9);
    const double charge = *a.voltage_transfer_s * (step.operation.drive->high_v - *a.plateau_v);  // R·Q_gd
    CHECK_RELATIVE(*b.voltage_transfer_s, std::sqrt(2 * charge * 1e-6 / swing), 1e-9);
}
