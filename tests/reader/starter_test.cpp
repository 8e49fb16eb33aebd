// From a datasheet to a case: what it states is in the case, the rest is typical, named and tolerated.
#include "ringquell/starter.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>

#include "ringquell/check.h"
#include "ringquell/numbers.h"
#include "ringquell/read_case.h"
#include "ringquell/write_case.h"
#include "support/case_text.h"
#include "support/relative.h"
#include "support/same_case.h"
#include "test_paths.h"

using namespace ringquell;
using case_text::contains;

namespace {

namespace fs = std::filesystem;

/// A datasheet of its own in a folder of its own.
struct Sheet {
    fs::path folder = fs::temp_directory_path() / "ringquell-starter-test";
    Sheet() { fs::create_directories(folder); }
    ~Sheet() { fs::remove_all(folder); }
    Sheet(const Sheet&) = delete;
    Sheet& operator=(const Sheet&) = delete;

    std::string file() const { return (folder / "sheet.yaml").string(); }
    std::string starter(const std::string& text, int positions = 4) const {
        std::ofstream(file()) << text;
        return starter_case({{}, positions, file()});
    }
    Case read(const std::string& text, int positions = 4) const {
        return read_case_text(starter(text, positions), "starter.yaml");
    }
    std::string error(const std::string& text) const {
        try {
            starter(text);
        } catch (const InputError& e) {
            const std::string what = e.what();
            return what.starts_with(file()) ? what.substr(file().size()) : what;
        }
        return "";
    }
};

bool is_assumed(const Case& input, const std::string& key) {
    return std::any_of(input.assumed.begin(), input.assumed.end(),
                       [&](const Assumed& a) { return a.key == key; });
}

double number(const Case& input, const std::string& key) {
    return *find_number(input, key).values.front();
}

const std::string whole = R"(kind: mosfet
title: a "quoted" part
rated_voltage: 900 V
rated_current: 40 A
gate_voltage: {high: 16 V, low: -3 V}
threshold: 3.5 V
points: [[5.5 V, 6 A], [7.5 V, 24 A]]
on_resistance: 30 mohm
gate_resistance: 2.2 ohm
capacitance: {vds: 600 V, ciss: 3 nF, coss: 150 pF, crss: 9 pF}
package: {gate: 6.5 nH, drain: 2.1 nH, source: 3.7 nH, kelvin: 4.9 nH}
)";

}  // namespace

TEST_CASE("what the datasheet states is in the case, exactly, and is not assumed") {
    const Sheet sheet;
    const Case input = sheet.read(whole, 3);
    CHECK(input.n() == 3);
    CHECK(contains(input.title, "a \"quoted\" part"));
    const std::pair<const char*, double> stated[] = {
        {"device.gate_resistance", 2.2},   {"device.package.gate", 6.5e-9},
        {"device.package.drain", 2.1e-9},  {"device.package.source", 3.7e-9},
        {"device.package.kelvin", 4.9e-9}, {"device.channel.threshold", 3.5},
        {"operation.drive.high", 16},      {"operation.drive.low", -3},
        {"device.capacitance.cgd", 9e-12}};
    for (const auto& [key, value] : stated) {
        CAPTURE(key);
        CHECK(number(input, key) == value);
        CHECK(!is_assumed(input, key));
    }
    CHECK_RELATIVE(number(input, "device.capacitance.cgs"), 3e-9 - 9e-12, 1e-3);
    CHECK_RELATIVE(number(input, "device.capacitance.cds"), 150e-12 - 9e-12, 1e-3);
    // The formula goes through both points, and the ohmic range has the on resistance.
    const auto channel = std::get<FormulaChannel>(input.positions.front().device.mosfet.channel);
    const auto current = [&](double v) { return channel.gain_a * std::pow(v - 3.5, channel.exponent); };
    CHECK_RELATIVE(current(5.5), 6, 2e-3);
    CHECK_RELATIVE(current(7.5), 24, 2e-3);
    CHECK_RELATIVE(channel.knee_voltage_v / current(16), 30e-3, 5e-3);
    // The ratings say where it operates: assumed.
    CHECK_RELATIVE(number(input, "operation.bus_voltage"), 600, 1e-12);
    CHECK_RELATIVE(number(input, "operation.load_current"), 120, 1e-12);
    CHECK(is_assumed(input, "operation.bus_voltage"));
    CHECK(is_assumed(input, "gate_path.inductance"));
}

TEST_CASE(
    "a case of any kind reads back without a warning, can be checked, and each assumed value is marked") {
    const Sheet sheet;
    std::vector<std::string> texts{sheet.starter(whole), sheet.starter("kind: jfet\nleads: 3\n", 1)};
    for (const char* name : {"datasheet-mosfet", "datasheet-cascode"})
        texts.push_back(starter_case({{}, 2, std::string(RINGQUELL_CASES) + "/parts/" + name + ".yaml"}));
    for (const DeviceKind kind :
         {DeviceKind::mosfet, DeviceKind::cascode, DeviceKind::jfet, DeviceKind::hemt})
        texts.push_back(starter_case({kind, 4, {}}));
    for (const std::string& text : texts) {
        CAPTURE(text);
        const Case input = read_case_text(text, "starter.yaml");
        CHECK(input.warnings.empty());
        CHECK(same_case(read_case_text(write_case(input), "again.yaml"), input));
        size_t marked = 0;
        for (size_t at = 0; (at = text.find("# assumed, common practice", at)) != std::string::npos; ++at)
            ++marked;
        CHECK(marked == input.assumed.size());
        REQUIRE(input.spread.size() == input.assumed.size());
        for (size_t k = 0; k < input.assumed.size(); ++k) CHECK(input.spread[k].key == input.assumed[k].key);
        CheckOptions plain;
        plain.size_gate_resistor = plain.gain_margin = false;
        const CheckResult result = check(input, plain);
        CHECK(!result.points.empty());
        CHECK(result.assumed.size() == input.assumed.size());
        REQUIRE(result.assumed.front().damping_change);
        CHECK(*result.assumed.front().damping_change > 0);
        if (input.n() > 1 && text != texts.front()) CHECK(result.verdict == Verdict::pass);
        for (const Warning& w : result.warnings) CHECK(w.key == "device.package.kelvin");  // three leads
    }
}

TEST_CASE("what a datasheet leaves out is assumed: with less stated, more is") {
    const Sheet sheet;
    size_t before = 1000;
    std::string text;
    size_t from = 0;
    while (from < whole.size()) {
        const size_t end = whole.find('\n', from) + 1;
        text += whole.substr(from, end - from);
        from = end;
        const size_t now = sheet.read(text).assumed.size();
        CHECK(now <= before);
        before = now;
    }
    CHECK(before + 14 == sheet.read("kind: mosfet\n").assumed.size());
    const Case none = sheet.read("kind: mosfet\n");
    for (const char* key : {"device.channel.threshold", "device.channel.gain", "device.channel.exponent",
                            "device.channel.knee_voltage", "device.capacitance.cgs", "device.package.kelvin",
                            "operation.drive.high"})
        CHECK(is_assumed(none, key));
    // One point gives the gain, not the exponent.
    const Case one = sheet.read("kind: mosfet\nthreshold: 4 V\npoints: [[8 V, 40 A]]\n");
    CHECK(!is_assumed(one, "device.channel.gain"));
    CHECK(is_assumed(one, "device.channel.exponent"));
    CHECK_RELATIVE(number(one, "device.channel.gain") * std::pow(4, number(one, "device.channel.exponent")),
                   40, 1e-3);
    // Twice the rated current, twice the die.
    const Case small = sheet.read("kind: hemt\nrated_current: 20 A\n"),
               large = sheet.read("kind: hemt\nrated_current: 40 A\n");
    CHECK_RELATIVE(number(large, "device.capacitance.cgs"), 2 * number(small, "device.capacitance.cgs"),
                   1e-2);
    CHECK_RELATIVE(number(large, "device.channel.gain"), 2 * number(small, "device.channel.gain"), 1e-2);
}

TEST_CASE("curves and tables of a datasheet are those of the case") {
    const Sheet sheet;
    std::ofstream(sheet.folder / "c.csv")
        << "vds (V); ciss (pF); coss (pF); crss (pF)\n0; 3000; 2000; 900\n800; 2500; 200; 10\n";
    const Case input = sheet.read(
        "kind: mosfet\nthreshold: 4 V\non_resistance: 50 mohm\ntransfer: {25 degC: {points: [[5 V, 2 A], [15 "
        "V, "
        "200 A]]}, 150 degC: {points: [[4 V, 1 A], [15 V, 180 A]]}}\ncapacitance: {file: c.csv}\n");
    const Device& device = input.positions.front().device;
    const auto& channel = std::get<TransferChannel>(device.mosfet.channel);
    REQUIRE(channel.curves.size() == 2);
    // The threshold is put before a curve that begins above it with a current.
    CHECK(channel.curves[0].points == std::vector<std::pair<double, double>>{{4, 0}, {5, 2}, {15, 200}});
    CHECK(channel.curves[1].points == std::vector<std::pair<double, double>>{{4, 1}, {15, 180}});
    CHECK_RELATIVE(channel.knee_voltage_v, 50e-3 * 200, 1e-12);
    CHECK(input.operation.junction_temperatures_degc == std::vector{25.0});
    const auto& table = std::get<CapacitanceTable>(device.mosfet.capacitance);
    REQUIRE(table.rows.size() == 2);
    CHECK(table.rows[1] == CapacitanceTable::Row{800, 2500e-12, 200e-12, 10e-12});
    const Case jfet =
        sheet.read("kind: jfet\nthreshold: -6 V\ncapacitance: {file: c.csv, gate_voltage: -12 V}\n");
    CHECK(number(jfet, "device.capacitance.gate_voltage") == -12);
    CHECK(number(jfet, "device.channel.threshold") == -6);
    std::vector<std::string> read;
    starter_case({{}, 4, sheet.file()}, &read);
    CHECK(read == std::vector<std::string>{sheet.file(), (sheet.folder / "c.csv").string()});
}

TEST_CASE("a cascode's on resistance is that of both dice, its coss the JFET's cgd, its ciss the MOSFET's") {
    const Sheet sheet;
    const Case input = sheet.read(
        "kind: cascode\nthreshold: 4.5 V\non_resistance: 20 mohm\ncapacitance: {vds: 700 V, ciss: 3 nF, "
        "coss: 130 "
        "pF, crss: 2 pF}\nleads: 3\n");
    const Device& device = input.positions.front().device;
    CHECK(!device.package.kelvin_h);
    const auto ohm = [](const FormulaChannel& c, double vgs) {
        return c.knee_voltage_v / (c.gain_a * std::pow(vgs - c.threshold_v, c.exponent));
    };
    const auto mosfet = std::get<FormulaChannel>(device.mosfet.channel),
               jfet = std::get<FormulaChannel>(device.jfet.channel);
    CHECK(mosfet.threshold_v == 4.5);
    CHECK_RELATIVE(ohm(mosfet, input.operation.drive->high_v) + ohm(jfet, 0), 20e-3, 1e-2);
    CHECK(number(input, "device.jfet.capacitance.cgd") == 130e-12);
    CHECK_RELATIVE(
        number(input, "device.mosfet.capacitance.cgs") + number(input, "device.mosfet.capacitance.cgd"), 3e-9,
        1e-3);
}

TEST_CASE("a wrong datasheet is an error with its place") {
    const Sheet sheet;
    CHECK(sheet.error("") == ": the file is empty");
    CHECK(sheet.error("- 1\n") ==
          ":1:1: found a list, expected a map of what a datasheet states, `kind: mosfet` first");
    CHECK(sheet.error("ringquell: 1\n") ==
          ":1:12: ringquell: found a case, expected what a datasheet states (docs/starter.md)");
    CHECK(sheet.error("threshold: 4 V\n") == ":1:1: the key `kind` is missing");
    CHECK(contains(sheet.error("kind: igbt\n"),
                   ":1:7: kind: found `igbt`, expected `mosfet`, `cascode`, `jfet` or "
                   "`hemt`: an IGBT's collector current"));
    CHECK(contains(sheet.error("kind: mosfet\ntreshold: 4 V\n"),
                   ":2:1: treshold: unknown key; did you mean `threshold`?"));
    CHECK(sheet.error("kind: mosfet\nthreshold: 4\n") ==
          ":2:12: threshold: found `4`, expected a voltage such as `18 V` (a unit is missing)");
    CHECK(sheet.error("kind: mosfet\npoints: [[8 V, 40 A]]\n") ==
          ":2:9: points: found without a `threshold`, from which the channel's formula counts");
    CHECK(sheet.error("kind: mosfet\nthreshold: 4 V\npoints: [[3 V, 1 A], [8 V, 40 A]]\n") ==
          ":3:10: points[1]: found [3 V, 1 A], expected voltages above the threshold, 4 V, and currents "
          "above zero, "
          "both rising");
    CHECK(contains(sheet.error("kind: mosfet\nthreshold: 4 V\npoints: [[7 V, 40 A], [8 V, 30 A]]\n"),
                   ":3:23: points[2]: found [8 V, 30 A]"));
    CHECK(sheet.error(
              "kind: mosfet\nthreshold: 4 V\npoints: [[8 V, 4 A]]\ntransfer: {points: [[5 V, 2 A], [7 V, 9 "
              "A]]}\n") == ":3:9: points: found beside `transfer`, which replaces them");
    CHECK(sheet.error("kind: mosfet\ncapacitance: {vds: 800 V, ciss: 3 nF, coss: 200 pF}\n") ==
          ":2:14: capacitance: the key `crss` is missing");
    CHECK(sheet.error("kind: mosfet\ncapacitance: {vds: 800 V, ciss: 3 nF, coss: 200 pF, crss: 300 pF}\n") ==
          ":2:59: capacitance.crss: found 300 pF, expected less than ciss and coss: it is a part of both");
    CHECK(sheet.error("kind: mosfet\ncapacitance: {}\n") ==
          ":2:14: capacitance: expected `vds` with `ciss`, `coss` and `crss`, or a `table`, or a `file`");
    CHECK(sheet.error("kind: mosfet\nleads: 3\npackage: {kelvin: 4 nH}\n") ==
          ":3:19: package.kelvin: found beside `leads: 3`, which has no Kelvin lead");
    CHECK(sheet.error("kind: jfet\nthreshold: 4 V\n") ==
          ":2:12: threshold: found `4 V`, expected a voltage below 0 V: a JFET here is normally on");
    CHECK(sheet.error("kind: mosfet\nthreshold: 19 V\non_resistance: 20 mohm\n") ==
          ":2:12: threshold: found 19 V, but the on resistance is at a gate voltage of 18 V (assumed: "
          "`gate_voltage.high`); expected one below it");
    CHECK(sheet.error("kind: mosfet\nleads: 5\n") ==
          ":2:8: leads: found `5`, expected a whole number from 3 to 4");
    CHECK(sheet.error("kind: mosfet\ngate_voltage: {high: -3 V, low: 18 V}\n") ==
          ":2:15: gate_voltage: found `low` not below `high`");
}

TEST_CASE("positions and kinds that cannot be are refused") {
    const auto error = [](const StarterOptions& options) {
        try {
            starter_case(options);
        } catch (const InputError& e) {
            return std::string(e.what());
        }
        return std::string();
    };
    CHECK(error({{}, 0, {}}) == "--positions: found 0, expected a whole number from 1 to 4096");
    const std::string sheet = std::string(RINGQUELL_CASES) + "/parts/datasheet-mosfet.yaml";
    CHECK(error({DeviceKind::hemt, 4, sheet}) ==
          "--kind: found `hemt`, but `" + sheet + "` states `kind: mosfet`");
    CHECK(error({DeviceKind::mosfet, 4, sheet}).empty());
    CHECK(device_kind("jfet", "--kind") == DeviceKind::jfet);
    CHECK_THROWS_WITH(device_kind("mosfett", "--kind"),
                      "--kind: found `mosfett`, expected a kind of device; did you mean `mosfet`?");
}
