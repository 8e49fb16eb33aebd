// Loops of inductances and capacitances without any resistance: a damping of zero has a verdict like any
// other.
#include <doctest/doctest.h>

#include <cmath>

#include "ringquell/check.h"
#include "support/case_text.h"
#include "support/relative.h"

using namespace ringquell;

namespace {

CheckResult checked(const Case& input, Method method) {
    CheckOptions options;
    options.method = method;
    options.size_gate_resistor = options.follow_modes = false;
    return check(input, options);
}

const std::vector<std::string> uneven{
    "drain_path.inductance=4nH", "source_path.inductance=3nH",
    "buses={drain: {inductance: 1 nH}, source: {inductance: 1 nH}, kelvin: {inductance: 1 nH}}",
    "power_loop={inductance: 9 nH, complementary: {capacitance: 240 pF}, dc_link: {capacitance: 2 uF, esl: 2 "
    "nH}, "
    "load: {inductance: 150 uH, capacitance: 60 pF}}"};

Case with(std::vector<std::string> settings) {
    settings.insert(settings.begin(), uneven.begin(), uneven.end());
    return case_text::read(case_text::base, settings);
}

}  // namespace

TEST_CASE(
    "modes on the imaginary axis do not stop the argument principle, whose answer is the whole network's") {
    const Case input =
        with({"positions=6", "snubber={capacitance: 220pF}", "tab={capacitance: 40pF}",
              "driver={pull_up_resistance: 0.9 ohm, pull_down_resistance: 0.5 ohm, inductance: 3 nH, "
              "return_to: source_rail}",
              "require.common_damping=0.001"});
    const CheckResult sparse = checked(input, Method::sparse), whole = checked(input, Method::whole);
    CHECK(sparse.verdict == whole.verdict);
    CHECK(sparse.verdict != Verdict::undecided);
    CHECK(sparse.growing.size() == whole.growing.size());
    REQUIRE(sparse.worst_differential.has_value());
    REQUIRE(whole.worst_differential.has_value());
    CHECK_RELATIVE(sparse.worst_differential->mode.damping_ratio(),
                   whole.worst_differential->mode.damping_ratio(), 1e-6);
}

TEST_CASE(
    "without gain and loss nothing grows by rounding, in the band or out of it, and zero misses what is "
    "asked") {
    // Seen of this one: real part +1.5e-7 of 53.8 krad/s, the load with the DC link.
    const Case input = with(
        {"positions=3", "device.channel={transconductance: 0 S}", "device.capacitance.cgd=0 pF",
         "power_loop.load.capacitance=0 pF", "snubber={capacitance: 220pF}", "gate_drain={capacitance: 2pF}",
         "leg={inductance: 3 nH, complementary: {capacitance: 100 pF}, dc_link: {capacitance: 100 nF, esl: 1 "
         "nH}}",
         "operation.points[1].edge=turn_off", "operation.points[1].complementary=conducting"});
    for (const Method method : {Method::whole, Method::sparse}) {
        const CheckResult result = checked(input, method);
        CHECK(result.growing.empty());
        CHECK(result.verdict == Verdict::fail);  // lossless differential modes in the band
        REQUIRE(result.worst_differential.has_value());
        CHECK(std::abs(result.worst_differential->mode.damping_ratio()) < 1e-3);
        CHECK(result.worst_differential->damping_uncertainty < 1e-6);
    }
}
