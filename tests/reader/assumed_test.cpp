// `assumed`: the list of numbers that nobody has stated.
#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "ringquell/write_case.h"
#include "support/case_text.h"
#include "support/same_case.h"

using namespace ringquell;
using namespace case_text;

namespace {

std::vector<std::string> keys_of(const Case& input) {
    std::vector<std::string> out;
    for (const Assumed& a : input.assumed) out.push_back(a.key);
    return out;
}

const std::string some =
    base +
    "buses: {drain: {inductance: 1 nH}}\n"
    "assumed: [device.package.gate, driver.bypass.capacitance, \"gate_path[2].inductance\",\n"
    "          gate_path.resistor, \"buses.drain[1].inductance\", operation.bus_voltage]\n";

}  // namespace

TEST_CASE("what is assumed is read in its order, and survives writing") {
    const std::vector<std::string> wanted{"device.package.gate",       "driver.bypass.capacitance",
                                          "gate_path[2].inductance",   "gate_path.resistor",
                                          "buses.drain[1].inductance", "operation.bus_voltage"};
    const Case input = read(some);
    CHECK(keys_of(input) == wanted);
    const Case again = read(write_case(input));
    CHECK(keys_of(again) == wanted);
    CHECK(same_case(again, input));
    CHECK(read(base + "assumed: []\n").assumed.empty());
    CHECK(read(base).assumed.empty());
    CHECK(!contains(write_case(read(base)), "assumed"));
}

TEST_CASE("what is assumed must be a number of the case") {
    const auto error = [](const std::string& list) { return error_of(base + "assumed: " + list + "\n"); };
    CHECK(error("[driver.inductance, device.package.gat]") ==
          "a.yaml:23:30: assumed[2]: found `device.package.gat`: no number has this key; did you mean "
          "`device.package.gate`?");
    CHECK(error("[snubber.capacitance]") ==
          "a.yaml:23:11: assumed[1]: found `snubber.capacitance`: this case has no such value");
    CHECK(error("[\"gate_path[4].inductance\"]") ==
          "a.yaml:23:11: assumed[1]: found `gate_path[4].inductance`: position 4 is out of range 1 to 3");
    CHECK(error("[driver.inductance, driver.inductance]") ==
          "a.yaml:23:30: assumed[2]: `driver.inductance` is named twice");
    CHECK(
        error("[require.differential_damping]") ==
        "a.yaml:23:11: assumed[1]: found `require.differential_damping`, which is what is asked; expected a "
        "number of the circuit or of where it operates");
    CHECK(error("driver.inductance") ==
          "a.yaml:23:10: assumed: found `driver.inductance`, expected a list of keys such as "
          "`device.package.gate`");
    CHECK(error("[{driver: 1}]") ==
          "a.yaml:23:11: assumed[1]: found a map, expected a key such as `device.package.gate`");
}

TEST_CASE("a number that is set stays assumed; one whose block is set drops out with it") {
    CHECK(keys_of(read(some, {"device.package.gate=6 nH", "gate_path[2].inductance=9 nH"})) ==
          keys_of(read(some)));
    CHECK(keys_of(read(some, {"driver.bypass="})) ==
          std::vector<std::string>{"device.package.gate", "gate_path[2].inductance", "gate_path.resistor",
                                   "buses.drain[1].inductance", "operation.bus_voltage"});
    CHECK(error_of(some, {"power_loop.load="}).empty());
    CHECK(contains(error_of(replaced(some, ", bypass: {capacitance: 1 uF}", "")),
                   "assumed[2]: found `driver.bypass.capacitance`: this case has no such value"));
    CHECK(keys_of(read(some, {"assumed=[driver.inductance]"})) ==
          std::vector<std::string>{"driver.inductance"});
}
