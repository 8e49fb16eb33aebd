#include <doctest/doctest.h>

#include "support/case_text.h"
#include "support/same_case.h"

using namespace ringquell;
using namespace case_text;

TEST_CASE("a setting equals editing the file") {
    const auto same = [](const std::vector<std::string>& settings, const std::string& edited) {
        return same_case(read(base, settings), read(edited));
    };
    CHECK(same({"gate_path.inductance=9 nH"}, replaced(base, "inductance: 7 nH", "inductance: 9 nH")));
    CHECK(same({"gate_path[2].inductance=9nH"},
               base + "overrides: [{position: 2, gate_path: {inductance: 9 nH}}]\n"));
    CHECK(same(
        {"gate_path[2].inductance=9nH", "gate_path[2].resistor.turn_on=6 ohm"},
        base + "overrides: [{position: 2, gate_path: {inductance: 9 nH, resistor: {turn_on: 6 ohm}}}]\n"));
    CHECK(same({"junction_temperature[3]=150 degC"},
               base + "overrides: [{position: 3, junction_temperature: 150 degC}]\n"));
    CHECK(same({"junction_temperature[1]=150 degC"},
               base + "junction_temperature: 150 degC\noverrides: [{position: 2, junction_temperature: ~}, "
                      "{position: 3, junction_temperature: ~}]\n"));
    CHECK(same({"gate_path.resistor.turn_on = 6 ohm"},
               replaced(base, "resistor: 4.7 ohm", "resistor: {turn_on: 6 ohm, turn_off: 4.7 ohm}")));
    CHECK(same({"operation.points[1].vds=300 V"}, replaced(base, "vds: 400 V", "vds: 300 V")));
    CHECK(same({"snubber.capacitance=1 nF"}, base + "snubber: {capacitance: 1 nF}\n"));
    CHECK(same({"power_loop.load=~"}, replaced(base, "  load: {inductance: 150 uH}\n", "")));
    CHECK(same({"buses.drain[2].inductance=2 nH"}, base + "buses: {drain: {inductance: [0 H, 2 nH]}}\n"));
    CHECK(same({"title=a", "title=b"}, base + "title: b\n"));
    const std::string tolerance = "spread: {gate_path.inductance: {tolerance: 10 %, vary: position}}\n";
    CHECK(same({"spread.gate_path.inductance={tolerance: 10 %, vary: position}"}, base + tolerance));
    CHECK(same_case(read(base + tolerance, {"spread.gate_path.inductance.tolerance=20 %"}),
                    read(base + replaced(tolerance, "10 %", "20 %"))));
}

TEST_CASE("a setting that names nothing is an error that says so") {
    CHECK(error_of(base, {"gate_path.inductanse=9 nH"}) ==
          "--set: gate_path.inductanse: unknown key; did you mean `inductance`?");
    CHECK(
        error_of(base, {"gate_path.inductance=9"}) ==
        "--set: gate_path.inductance: found `9`, expected an inductance such as `12 nH` (a unit is missing)");
    CHECK(error_of(base, {"junction_temperature[2]=-300 degC"}) ==
          "--set: junction_temperature: found `-300 degC`, expected a temperature above absolute zero");
    CHECK(error_of(base, {"gate_path[4].inductance=9 nH"}) ==
          "--set: gate_path[4].inductance: position 4 is out of range 1 to 3");
    CHECK(error_of(base, {"operation.points[2].vds=1 V"}) ==
          "--set: operation.points[2]: [2] is out of range: the list has 1 entries, counted from 1");
    CHECK(error_of(base, {"gate_path[0].inductance=9 nH"}) ==
          "--set: gate_path[0].inductance: an index counts from 1");
    CHECK(error_of(base, {"gate_path.inductance.x=9 nH"}) ==
          "--set: gate_path.inductance.x: `gate_path.inductance` holds `7 nH`, which has no keys");
    CHECK(contains(error_of(base, {"nonsense"}), "expected `key=value`"));
    CHECK(contains(error_of(base, {"=1"}), "expected `key=value`"));
    CHECK(contains(error_of(base, {"a..b=1"}), "expected a key such as"));
    CHECK(contains(error_of(base, {"gate_path[x].b=1"}), "expected a key such as"));
    CHECK(error_of(base, {"gate_path=[1"}) ==
          "--set: gate_path: a key must be plain text; is a bracket left open?");
}
