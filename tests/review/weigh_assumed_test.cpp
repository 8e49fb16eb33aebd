// How many assumed values a verdict rests on, and which matters most.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>

#include "review/assumed.h"
#include "ringquell/numbers.h"
#include "ringquell/report.h"
#include "support/case_text.h"
#include "support/files.h"
#include "support/moved_number.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

CheckResult plainly_checked(const Case& input) {
    CheckOptions plain;
    plain.size_gate_resistor = plain.follow_modes = plain.gain_margin = false;
    return check(input, plain);
}

const std::string keys =
    "[device.channel.threshold, device.channel.gain, device.channel.exponent, device.channel.knee_voltage, "
    "device.capacitance.cgs, device.package.source, source_path.inductance, gate_path.resistor, "
    "gate_path.resistor.turn_on, gate_path.resistor.turn_off, driver.inductance, operation.load_current, "
    "power_loop.complementary.capacitance, device.gate_resistance]";

}  // namespace

TEST_CASE(
    "the weight of an assumed value is the change of the worst damping over its tolerance, or per tenth") {
    // Alike positions, and an uneven board.
    for (const std::vector<std::string>& more :
         {std::vector<std::string>{}, std::vector<std::string>{"source_path[2].inductance=4 nH"}}) {
        std::vector<std::string> settings{
            "assumed=" + keys,
            "spread={device.channel.threshold: {tolerance: 0.5 V, vary: batch}, source_path.inductance: "
            "{tolerance: 40 %, vary: batch}, gate_path.resistor: [{tolerance: 3 %, vary: batch}, {tolerance: "
            "2 "
            "%}], device.package.source: {tolerance: 1 %, at_least: 0.5 nH}}"};
        settings.insert(settings.end(), more.begin(), more.end());
        const Case input = test_files::demonstration("ropeway-first", settings);
        const CheckResult result = plainly_checked(input);
        REQUIRE(result.assumed.size() == 14);
        const std::map<std::string, double> tolerance{
            {"device.channel.threshold",
             0.5 / *find_number(input, "device.channel.threshold").values.front()},
            {"source_path.inductance", 0.4},
            {"gate_path.resistor", 0.05},
            {"device.package.source", 0.5e-9 / *find_number(input, "device.package.source").values.front()}};
        double before = 1e9;
        for (const AssumedValue& a : result.assumed) {
            CAPTURE(a.key);
            const auto told = tolerance.find(a.key);
            CHECK(a.over_tolerance == (told != tolerance.end()));
            REQUIRE(a.damping_change);
            CHECK(*a.damping_change <= before);
            before = *a.damping_change;
            constexpr double step = 1e-3;
            const double slope = (damping_with(input, a.key, 1 + step, *result.worst_differential) -
                                  damping_with(input, a.key, 1 - step, *result.worst_differential)) /
                                 (2 * step);
            const double wanted = std::abs(slope) * (told == tolerance.end() ? 0.1 : told->second);
            CHECK(std::abs(*a.damping_change - wanted) <= 1e-4 * wanted + 1e-9);
        }
        CHECK(*result.assumed.front().damping_change > 1e-3);
    }
}

TEST_CASE(
    "a verdict without assumed values says nothing of them, one with them says how many and which first") {
    const CheckResult none = plainly_checked(test_files::demonstration("ropeway-first"));
    CHECK(none.assumed.empty());
    CHECK(!case_text::contains(check_text(none), "Assumed"));
    CHECK(!nlohmann::json::parse(check_json(none)).contains("assumed"));
    const CheckResult some = plainly_checked(
        test_files::demonstration("ropeway-first", {"assumed=[operation.bus_voltage, source_path.inductance]",
                                                    "spread={source_path.inductance: {tolerance: 40 %}}"}));
    const auto json = nlohmann::json::parse(check_json(some))["assumed"];
    CHECK(json["count"] == 2);
    CHECK(json["values"][0]["key"] == "source_path.inductance");
    CHECK(json["values"][0]["over"] == "tolerance");
    CHECK(json["values"][0]["damping_change"] == *some.assumed[0].damping_change);
    CHECK(json["values"][1]["over"] == "10 %");
    const std::string text = check_text(some);
    CHECK(case_text::contains(text,
                              "Assumed: the verdict rests on 2 values that nobody has stated or measured; "
                              "source_path.inductance matters most: the worst damping ratio changes by "));
    CHECK(case_text::contains(text, " over its tolerance, then operation.bus_voltage ("));
    CHECK(case_text::contains(check_markdown(some), "the verdict rests on 2 values"));
    CHECK(case_text::contains(check_junit(some, "x.yaml"), "the verdict rests on 2 values"));
    const CheckResult one =
        plainly_checked(test_files::demonstration("ropeway-first", {"assumed=[driver.inductance]"}));
    // The driver lies outside every differential mode.
    CHECK(*one.assumed.front().damping_change == 0);
    CHECK(case_text::contains(check_text(one), "the verdict rests on 1 value that nobody"));
}
