#include "ringquell/read_case.h"

#include <doctest/doctest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <initializer_list>
#include <string>

#include "support/case_text.h"
#include "test_paths.h"

using namespace ringquell;
using namespace case_text;

namespace {

const std::string reference = std::string(RINGQUELL_TEST_DATA) + "/reference/";

/// A directory of part files, gone at the end.
struct Parts {
    std::filesystem::path directory =
        std::filesystem::temp_directory_path() / ("ringquell-parts-" + std::to_string(::getpid()));
    Parts() { std::filesystem::create_directories(directory / "parts"); }
    ~Parts() { std::filesystem::remove_all(directory); }
    std::string write(const std::string& name, const std::string& text) const {
        std::ofstream(directory / name) << text;
        return (directory / name).string();
    }
    std::string error_of(const std::string& name, const std::vector<std::string>& settings = {}) const {
        try {
            read_case((directory / name).string(), settings);
        } catch (const InputError& error) {
            return error.what();
        }
        return "";
    }
};

}  // namespace

TEST_CASE("the reference cases are read") {
    const Case ladder = read_case(reference + "ladder-3-coupled.yaml");
    CHECK(ladder.n() == 3);
    CHECK(ladder.positions[0].gate_path.inductance_h == 7e-9);
    CHECK(ladder.positions[2].gate_path.inductance_h == 12e-9);
    CHECK(ladder.positions[2].gate_path.resistor_ohm == PerEdge{4.7, 2.2});
    CHECK(ladder.bus(Rail::gate)->inductance_h == std::vector{2e-9, 3e-9});
    CHECK(ladder.bus(Rail::source)->feed_at == 3);
    CHECK(!ladder.bus(Rail::kelvin));
    CHECK(ladder.couplings.at(0).coefficient == 0.12);
    CHECK(!ladder.operation.path);
    CHECK(ladder.operation.points[0].complementary == Complementary::conducting);
    CHECK(ladder.warnings.empty());
    const Case cascode = read_case(reference + "pair-cascode.yaml");
    REQUIRE(cascode.operation.points[1].devices.size() == 1);
    const Device& there = cascode.operation.points[1].devices[0];
    CHECK(std::get<FixedChannel>(there.jfet.channel) == FixedChannel{20, 0.02});
    CHECK(std::get<FixedCapacitance>(there.jfet.capacitance) == FixedCapacitance{600e-12, 120e-12, 0});
    CHECK(there.jfet_gate_resistance.value_ohm == 1.5);
    const Case bead = read_case(reference + "pair-with-bead.yaml");
    CHECK(bead.positions[1].gate_path.bead == Bead{"", 0.04, 1e-12, {{60, 80e-9}}, {}});
    CHECK(read_case(reference + "star-4-mosfet.yaml").positions[3].device.package.kelvin_h == 4e-9);
}

TEST_CASE("typical slips are errors with place, key, what was found and what was expected") {
    struct Slip {
        const char *from, *to, *error;
    };
    for (const Slip& slip : std::initializer_list<Slip>{
             {"gate_resistance: 1.1 ohm", "gate_resistence: 1.1 ohm",
              "5:3: device.gate_resistence: unknown key; did you mean `gate_resistance`?"},
             {"inductance: 7 nH", "xyz: 7 nH",
              "9:32: gate_path.xyz: unknown key; valid here: resistor, diode, bead, inductance"},
             {"4.7 ohm", "4.7",
              "9:23: gate_path.resistor: found `4.7`, expected a resistance such as `4.7 ohm` (a unit is "
              "missing)"},
             {"7 nH", "7 ohm",
              "9:44: gate_path.inductance: found `7 ohm`, expected an inductance such as `12 nH` (`ohm` is "
              "the unit of a resistance)"},
             {"7 nH", "-7 nH", "9:44: gate_path.inductance: found `-7 nH`, expected no negative value"},
             {"cgd: 14 pF", "cgd: -14 pF",
              "8:35: device.capacitance.cgd: found `-14 pF`, expected no negative value"},
             {"inductance: 7 nH", "inductance:",
              "9:43: gate_path.inductance: found nothing, expected an inductance such as `12 nH`"},
             {"edge: turn_on", "edge: on",
              "21:26: operation.points[1].edge: found `on`, expected `turn_on` or `turn_off`; `on` is a "
              "boolean to many YAML tools, write `turn_on`"},
             {"pull_down_resistance: 0.5 ohm, ", "",
              "11:9: driver: the key `pull_down_resistance` is missing"},
             {"require: {differential_damping: 0.1}\n", "", "1:1: the key `require` is missing"},
             {"ringquell: 1", "ringquell: 2",
              "1:12: ringquell: found `2`, expected 1, the version of the format that this program reads"},
             {"positions: 3", "positions: 4097",
              "2:12: positions: found `4097`, expected a whole number from 1 to 4096"}}) {
        CAPTURE(slip.to);
        CHECK(error_of(replaced(base, slip.from, slip.to)) == std::string("a.yaml:") + slip.error);
    }
    CHECK(error_of(base + "title: x\ntitle: y\n") ==
          "a.yaml:24:1: title: the key is given twice, first in line 23, column 1");
    CHECK(error_of(replaced(base, "positions: 3", "positions: 2.5")) != "");
    CHECK(error_of("") == "a.yaml: the file is empty");
    CHECK(error_of("[1]") == "a.yaml:1:1: found a list, expected the keys of a case, `ringquell: 1` first");
    CHECK(
        contains(error_of(replaced(base, "damping: 0.1", "damping: 1")), "expected a damping ratio below 1"));
    CHECK(contains(error_of(replaced(base, "damping: 0.1", "damping: 0.1, band: [3 MHz, 1 MHz]")),
                   "found [3 MHz, 1 MHz], expected low above zero and high above low"));
    CHECK(case_text::read(base + "spread: {}\n").spread.empty());
    const auto spread = case_text::read(base + "spread:\n  gate_path.inductance: {tolerance: 10 %}\n").spread;
    REQUIRE(spread.size() == 1);
    CHECK(spread[0].relative);
    CHECK(spread[0].vary == Vary::position);
    CHECK(error_of(replaced(base, "inductance: 9 nH", "inductance: {over_plane: {}}")) ==
          "a.yaml:13:28: power_loop.inductance.over_plane.length: missing; expected a length");
}

TEST_CASE("a device says which form it is in") {
    CHECK(contains(error_of(replaced(base, "output_conductance: 60 mS", "threshold: 4 V")),
                   "`transconductance` and `threshold` belong to different forms"));
    CHECK(contains(error_of(replaced(base, "transconductance: 38 S, output_conductance: 60 mS",
                                     "transconductanse: 1 S")),
                   "unknown key; did you mean `transconductance`?"));
    CHECK(contains(error_of(replaced(base, "cds: 190 pF", "table: []")), "exclude each other"));
    CHECK(
        error_of(replaced(base, "  gate_resistance: 1.1 ohm", "  mosfet: {}")) ==
        "a.yaml:5:3: device.mosfet: belongs to `kind: cascode`; a device of `kind: mosfet` has `channel` and "
        "`capacitance` itself");
    const Case formula = read(replaced(
        replaced(
            base, "{transconductance: 38 S, output_conductance: 60 mS}",
            "{threshold: -4.1 V, gain: 5.5 A, exponent: 1.7, knee_voltage: 9 V, output_slope: 0.0004 /V}"),
        "bus_voltage", "drive: {high: 18 V}\n  path: {steps: 5}\n  bus_voltage"));
    CHECK(std::get<FormulaChannel>(formula.positions[0].device.mosfet.channel) ==
          FormulaChannel{-4.1, 5.5, 1.7, 9, 0.0004});
    CHECK(formula.operation.path->steps == 5);
}

TEST_CASE("a path walked by a device given by curves needs the drive") {
    const std::string text = replaced(replaced(base, "{transconductance: 38 S, output_conductance: 60 mS}",
                                               "{threshold: 4 V, gain: 5 A, knee_voltage: 9 V}"),
                                      "bus_voltage", "path: {}\n  bus_voltage");
    CHECK(error_of(text) ==
          "a.yaml:18:3: operation: the key `drive` is missing; the path of a device given by curves "
          "starts at `drive.high`");
    CHECK(error_of(text, {"device[2].channel={transconductance: 3 S}"}) ==
          "a.yaml:22:7: operation.points[1]: devices given by fixed values cannot share a current with "
          "devices given by "
          "curves");
}

TEST_CASE("couplings name inductances, and only those") {
    const auto coupling = [](const std::string& between, const std::string& rest = "coefficient: 0.1") {
        return base + "couplings:\n  - {between: [" + between + "], " + rest + "}\n";
    };
    CHECK(error_of(coupling("gate_pth, source_path")) ==
          "a.yaml:24:16: couplings[1].between[1]: no inductance is named `gate_pth`; did you mean "
          "`gate_path`?");
    CHECK(error_of(coupling("\"drain_path[4]\", source_path")) ==
          "a.yaml:24:16: couplings[1].between[1]: found `drain_path[4]`, but positions run from 1 to 3");
    const std::string rails = "buses: {drain: {inductance: 1 nH}, source: {inductance: [1 nH, 0 nH]}}\n";
    CHECK(error_of(rails + coupling("buses.drain, buses.source"))
              .starts_with("a.yaml:25:15: couplings[1].between: found `buses.drain` with 2 segments of "
                           "inductance (1, 2) and "
                           "`buses.source` with 1 segment of inductance (1), expected rails whose segments "
                           "pair off one by one, or "
                           "single segments such as `buses.drain[1]`"));
    CHECK(error_of(rails + coupling("source_path, buses.drain")) ==
          "a.yaml:25:15: couplings[1].between: found every segment of `buses.drain` with every position's "
          "`source_path`, but a segment lies between two positions and belongs to none; expected one of the "
          "two, "
          "such as `buses.drain[1]` or `source_path[1]`");
    CHECK(contains(error_of(coupling("buses.drain, buses.drain")), "`buses.drain` is named twice"));
    CHECK(error_of(rails + coupling("buses.drain, power_loop")).empty());
    CHECK(error_of(rails + coupling("buses.drain, \"source_path[2]\"")).empty());
    CHECK(error_of(coupling("\"buses.drain[3]\", source_path")) ==
          "a.yaml:24:16: couplings[1].between[1]: found `buses.drain[3]`, but segments run from 1 to 2");
    CHECK(contains(error_of(coupling("gate_path, gate_path")), "`gate_path` is named twice"));
    CHECK(
        contains(error_of(coupling("driver, load", "coefficient: 1")), "expected a value between -1 and 1"));
    CHECK(contains(error_of(coupling("driver, load", "coefficient: 0.1, mutual: 1 nH")), "one of them"));
    CHECK(contains(error_of(coupling("driver", "mutual: 1 nH")), "expected a list of two"));
    const Case in = read(coupling("driver.return, \"package.gate[2]\"", "mutual: -3 nH"));
    CHECK(in.couplings[0].mutual_h == -3e-9);
    CHECK(in.couplings[0].second == InductanceName{"package.gate", 2});
}

TEST_CASE("an override changes one position, key by key") {
    const Case in = read(base +
                             "snubber: {capacitance: 100 pF}\n"
                             "overrides:\n"
                             "  - {position: 2, gate_path: {resistor: {turn_on: 6 ohm}, bead: {resistance: "
                             "60 ohm, inductance: 80 nH}}}\n"
                             "  - {position: 3, snubber: ~, device: {package: {kelvin: ~}, channel: "
                             "{threshold: 4 V, gain: 5 A, knee_voltage: 9 V}}}\n",
                         {"operation.points=~", "operation.path.steps=2", "operation.drive.high=18 V",
                          "device.channel={threshold: 4 V, gain: 6 A, knee_voltage: 9 V}"});
    CHECK(in.positions[0].gate_path.resistor_ohm == PerEdge{4.7, 4.7});
    CHECK(in.positions[1].gate_path.resistor_ohm == PerEdge{6, 4.7});
    CHECK(in.positions[1].gate_path.inductance_h == 7e-9);
    CHECK(in.positions[1].gate_path.bead->sections.at(0) == BeadSection{60, 80e-9});
    CHECK(!in.positions[0].gate_path.bead);
    CHECK(in.positions[1].snubber);
    CHECK(!in.positions[2].snubber);
    CHECK(!in.positions[2].device.package.kelvin_h);
    CHECK(std::get<FormulaChannel>(in.positions[2].device.mosfet.channel).gain_a == 5);
    CHECK(error_of(base + "overrides: [{position: 4, gate_path: {inductance: 1 nH}}]\n") ==
          "a.yaml:23:24: overrides[1].position: found `4`, expected a whole number from 1 to 3");
    CHECK(contains(error_of(base + "overrides: [{position: 1}, {position: 1}]\n"),
                   "position 1 has an override already"));
    CHECK(contains(error_of(base + "overrides: [{position: 1, driver: {}}]\n"), "unknown key"));
    CHECK(contains(error_of(base + "overrides: [{gate_path: {}}]\n"), "the key `position` is missing"));
}

TEST_CASE("buses have a value for every segment, or a list") {
    const Case in =
        read(base + "buses: {drain: {inductance: [1 nH, 2 nH], resistance: 0.1 mohm, feed_at: 3}}\n");
    CHECK(in.bus(Rail::drain)->inductance_h == std::vector{1e-9, 2e-9});
    CHECK(in.bus(Rail::drain)->resistance_ohm == std::vector{1e-4, 1e-4});
    CHECK(contains(error_of(base + "buses: {drain: {inductance: [1 nH]}}\n"),
                   "found 1 values, expected one for each of the 2 segments between 3 positions"));
    CHECK(contains(error_of(base + "buses: {drian: {inductance: 1 nH}}\n"), "did you mean `drain`?"));
    CHECK(contains(error_of(base + "buses: {drain: {feed_at: 4}}\n"), "expected a whole number from 1 to 3"));
}

TEST_CASE("what real boards add is read") {
    const Case in =
        read(base +
                 "gate_drain: {capacitance: 1 pF, resistance: 1 ohm}\ntab: {capacitance: 40 pF}\n"
                 "common_mode_choke: {inductance: 1 uH, leakage: 20 nH, resistance: 100 ohm}\n"
                 "leg: {inductance: 2 nH, resistance: 3 mohm, complementary: {capacitance: {points: [[0 V, 1 "
                 "nF], [800 V, 200 "
                 "pF]]}}, dc_link: "
                 "{capacitance: 1 uF}}\n",
             {"gate_path.diode={blocks: turn_on, capacitance: 10 pF, on_resistance: 0.2 ohm, resistor: 1R0}",
              "device.package={gate_resistance: 1 mohm, drain_resistance: 2 mohm, source_resistance: 3 mohm, "
              "kelvin: 1 nH, kelvin_resistance: 4 mohm}",
              "junction_temperature[3]=140 degC", "driver.per_position=isolated",
              "driver.barrier_capacitance=2 pF", "driver.return_to=source_rail",
              "device.capacitance.output_resistance=0.3 ohm", "device.gate_resistance.per_kelvin=0.3 %",
              "operation.junction_temperature=[25 degC, 150 degC]",
              "gate_path.bead={sections: [{resistance: 1 ohm, inductance: 1 nH}, {resistance: 2 ohm, "
              "inductance: 2 nH}], "
              "saturation: [[0 A, 1.0], [2 A, 45 %]]}"});
    const Position& p = in.positions[2];
    CHECK(p.gate_drain == SeriesRlc{1e-12, 1, 0});
    CHECK(p.tab->capacitance_f == 40e-12);
    CHECK(p.common_mode_choke == CommonModeChoke{1e-6, 20e-9, 100});
    CHECK(p.leg->resistance_ohm == 3e-3);
    CHECK(p.device.package == Package{0, 0, 0, 1e-9, 1e-3, 2e-3, 3e-3, 4e-3});
    CHECK(p.junction_temperature_degc == 140.0);
    CHECK(!in.positions[1].junction_temperature_degc);
    CHECK(p.leg->complementary.curve->points.at(1) == std::pair{800.0, 200e-12});
    CHECK(p.gate_path.diode == GateDiode{Edge::turn_on, 10e-12, 0.2, 1});
    CHECK(in.driver.per_position == DriverSharing::isolated);
    CHECK(in.driver.return_to == DriverReturn::source_rail);
    CHECK(p.device.mosfet.output_resistance_ohm == 0.3);
    CHECK(p.device.gate_resistance == DieResistance{1.1, 25, 0.003});
    CHECK(in.operation.junction_temperatures_degc == std::vector{25.0, 150.0});
    CHECK(p.gate_path.bead->sections.size() == 2);
    CHECK(p.gate_path.bead->saturation.at(1) == std::pair{2.0, 0.45});
    CHECK(contains(error_of(base + "tab: {capacitance: 1 pF, inductance: 1 nH}\n"), "unknown key"));
}

TEST_CASE("part files are read beside the file that names them, and keys beside `file` override them") {
    const Parts parts;
    const std::string device =
        "kind: mosfet\ngate_resistance: 1.1 ohm\npackage: {gate: 5 nH, drain: 2 nH, source: 3 nH, kelvin: 4 "
        "nH}\n"
        "channel: {transfer: {25 degC: {points: [[4 V, 0 A], [8 V, 90 A]]}, 150 degC: {file: hot.csv}}, "
        "knee_voltage: "
        "9 V}\ncapacitance: {file: c.csv}\n";
    parts.write("parts/hot.csv", "# digitised\nvgs_V,id_A\n3.5, 0\n8, 80 # last\n");
    parts.write("parts/c.csv",
                "vds (V); ciss (pF); coss (pF); crss (pF)\n0; 3000; 2000; 900\n800; 2500; 200; 10\n");
    parts.write("parts/x.yaml", device);
    parts.write("parts/bead.yaml", "resistance: 60 ohm\ninductance: 80 nH\n");
    std::string text = base;
    const size_t from = text.find("device:"), to = text.find("gate_path:");
    text.replace(from, to - from, "device: {file: parts/x.yaml, gate_resistance: 2 ohm}\n");
    text = replaced(text, "inductance: 7 nH", "inductance: 7 nH, bead: {file: parts/bead.yaml}");
    const std::string file = parts.write("a.yaml", text);
    const Case in = read_case(file);
    const Device& d = in.positions[1].device;
    CHECK(d.gate_resistance.value_ohm == 2);
    CHECK(d.package.gate_h == 5e-9);
    const TransferChannel& channel = std::get<TransferChannel>(d.mosfet.channel);
    REQUIRE(channel.curves.size() == 2);
    CHECK(channel.curves[1].junction_temperature_degc == 150);
    CHECK(channel.curves[1].points == std::vector<std::pair<double, double>>{{3.5, 0}, {8, 80}});
    CHECK(std::get<CapacitanceTable>(d.mosfet.capacitance).rows[1] ==
          CapacitanceTable::Row{800, 2500e-12, 200e-12, 10e-12});
    CHECK(in.positions[0].gate_path.bead->name == "parts/bead.yaml");
    const Case set = read_case(file, {"device.package.gate=6 nH", "gate_path.bead.capacitance=1 pF"});
    CHECK(set.positions[0].device.package.gate_h == 6e-9);
    CHECK(set.positions[0].device.package.drain_h == 2e-9);
    CHECK(set.positions[0].gate_path.bead->capacitance_f == 1e-12);
    CHECK(set.positions[0].gate_path.bead->sections.at(0).resistance_ohm == 60);

    parts.write("parts/x.yaml", device + "oops: 1\n");
    CHECK(parts.error_of("a.yaml") ==
          (parts.directory / "parts/x.yaml").string() +
              ":6:1: device.oops: unknown key; valid here: kind, gate_resistance, package, "
              "channel, capacitance");
    parts.write("parts/x.yaml", "file: y.yaml\n");
    parts.write("parts/y.yaml", "file: x.yaml\n");
    CHECK(parts.error_of("a.yaml") ==
          (parts.directory / "parts/y.yaml").string() + ":1:7: device.file: `x.yaml` includes itself");
    CHECK(parts.error_of("a.yaml", {"device.file=parts/none.yaml"}) ==
          "--set: device.file: the file `" + (parts.directory / "parts/none.yaml").string() +
              "` does not exist");
    parts.write("parts/x.yaml", device);
    parts.write("parts/hot.csv", "3.5, 0\n8, 80\n");
    CHECK(contains(parts.error_of("a.yaml"), "hot.csv:1:1: found the columns"));
    parts.write("parts/hot.csv", "vgs_V,id_A\n3.5, 0\n3.5, 80\n");
    CHECK(contains(parts.error_of("a.yaml"), "hot.csv:3:1: vgs: the rows must rise"));
}

TEST_CASE("points may have devices of their own") {
    const Case alike = read(base, {"operation.points[1].device.channel.transconductance=5 S"});
    REQUIRE(alike.operation.points[0].devices.size() == 1);
    CHECK(std::get<FixedChannel>(alike.operation.points[0].devices[0].mosfet.channel) ==
          FixedChannel{5, 0.06});
    const Case differing = read(
        base, {"operation.points[1].device.channel.transconductance=5 S", "device[3].gate_resistance=2 ohm"});
    REQUIRE(differing.operation.points[0].devices.size() == 3);
    CHECK(differing.operation.points[0].devices[2].gate_resistance.value_ohm == 2);
    CHECK(read(base).operation.points[0].devices.empty());
    const std::string point = "    - {edge: turn_off, vds: 1 V, current: 0 A, complementary: blocking}\n";
    CHECK(read(replaced(base, "require", point + "require")).operation.points[1].name == "point 2");
    CHECK(
        contains(error_of(replaced(base, "require", replaced(point, "edge", "name: fall, edge") + "require")),
                 "`fall` is the name of operation.points[1], too"));
}

TEST_CASE("a doubtful value is a warning in plain words") {
    const auto warnings = [](const std::vector<std::string>& settings) {
        return read(base, settings).warnings;
    };
    CHECK(warnings({}).empty());
    CHECK(warnings({"gate_path.inductance=0.7 nH"}) ==
          std::vector{Warning{"gate_path.inductance",
                              "700 pH is below what a gate path has (2 nH to 100 nH): a unit slip?"}});
    CHECK(warnings({"gate_path[2].inductance=7 uH"}).at(0).text ==
          "7 uH is above what a gate path has (2 nH to 100 nH): a unit slip?");
    CHECK(warnings({"gate_path.inductance=0 H"}).empty());
    CHECK(warnings({"power_loop.load=~"}).at(0).key == "power_loop.load");
    CHECK(warnings({"driver.bypass=~"}).at(0).key == "driver.bypass");
    CHECK(warnings({"power_loop.dc_link=~"}).at(0).key == "power_loop.dc_link");
    CHECK(warnings({"operation.points[1].vds=900 V"}).at(0).text ==
          "900 V at `fall` is above the bus voltage, 800 V");
    CHECK(warnings({"operation.points[1].current=900 A"}).at(0).text ==
          "900 A at `fall` is above the current of the switch, 200 A");
    CHECK(warnings({"couplings=[{between: [gate_path, kelvin_path], coefficient: -0.95}]"}).size() == 1);
}
