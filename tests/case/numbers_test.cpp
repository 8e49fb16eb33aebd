#include "ringquell/numbers.h"

#include <doctest/doctest.h>

#include "support/case_text.h"

using namespace ringquell;
using namespace case_text;

TEST_CASE("a number is found by its key, at all positions or at one") {
    Case in =
        read(base, {"gate_path[2].inductance=9 nH", "buses.drain.inductance=1 nH",
                    "snubber[2].capacitance=1 nF", "operation.points[1].device.channel.transconductance=5 S",
                    "couplings=[{between: [gate_path, kelvin_path], coefficient: -0.3}]",
                    "gate_path.bead={sections: [{resistance: 1 ohm, inductance: 1 nH}, {resistance: 2 ohm, "
                    "inductance: 2 nH}]}"});
    CHECK(find_number(in, "gate_path.inductance").values.size() == 3);
    CHECK(*find_number(in, "gate_path[2].inductance").values.at(0) == 9e-9);
    CHECK(find_number(in, "gate_path.resistor").values.size() == 6);
    CHECK(find_number(in, "gate_path.resistor.turn_on").values.size() == 3);
    CHECK(find_number(in, "device.channel.transconductance").values.size() == 4);
    CHECK(find_number(in, "device[2].channel.transconductance").values.size() == 2);
    CHECK(in.operation.points[0].devices.size() == 1);
    CHECK(find_number(in, "buses.drain.inductance").values.size() == 2);
    CHECK(find_number(in, "buses.drain[2].inductance").values.size() == 1);
    CHECK(find_number(in, "snubber.capacitance").values.size() == 1);
    CHECK(*find_number(in, "couplings[1].coefficient").values.at(0) == -0.3);
    CHECK(*find_number(in, "operation.points[1].vds").values.at(0) == 400);
    CHECK(*find_number(in, "gate_path.bead.sections[2].resistance").values.at(0) == 2);
    CHECK(find_number(in, "driver.pull_up_resistance").dimension == Dimension::resistance);
    const auto message = [&](const char* key) {
        try {
            find_number(in, key);
        } catch (const InputError& error) {
            return std::string(error.what());
        }
        return std::string();
    };
    CHECK(message("gate_shunt.capacitance") == "gate_shunt.capacitance: this case has no such value");
    CHECK(message("junction_temperature") == "junction_temperature: this case has no such value");
    CHECK(message("leg.resistance") == "leg.resistance: this case has no such value");
    CHECK(find_number(in, "device.package.kelvin_resistance").values.size() == 4);
    CHECK(message("snubber[1].capacitance") == "snubber[1].capacitance: position 1 has no such value");
    CHECK(message("gate_path.inductanc") ==
          "gate_path.inductanc: no number has this key; did you mean `gate_path.inductance`?");
    CHECK(message("gate_path[4].inductance") == "gate_path[4].inductance: position 4 is out of range 1 to 3");
    for (const std::string& key : number_keys(in)) CHECK(!find_number(in, key).values.empty());
}

TEST_CASE(
    "a number of one device is looked up without a change; to change it alone, points get own devices") {
    Case in = read(base, {"operation.points[1].device.channel.transconductance=5 S"});
    const Case before = in;
    const std::string key = "device[2].channel.transconductance";
    const double* shared = find_number(before, key).values.at(1);
    CHECK(shared == find_number(before, "device[3].channel.transconductance").values.at(1));
    give_points_own_devices(in, "device.channel.transconductance");
    CHECK(in.operation == before.operation);
    give_points_own_devices(in, key);
    REQUIRE(in.operation.points[0].devices.size() == 3);
    for (double* value : find_number(in, key).values) *value = 7;
    CHECK(*find_number(in, "device[1].channel.transconductance").values.at(1) == 5);
    CHECK(*find_number(in, key).values.at(1) == 7);
}
