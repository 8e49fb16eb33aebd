// Keys that do nothing where they stand are said, with the reason; others are not.
#include "reader/idle_keys.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>

#include "ringquell/modes.h"
#include "ringquell/numbers.h"
#include "support/case_text.h"
#include "support/relative.h"
#include "test_paths.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

std::vector<std::string> said(const Case& input) {
    std::vector<std::string> out;
    for (const Warning& w : idle_keys(input)) out.push_back(w.key + ": " + w.text);
    return out;
}

std::vector<std::complex<double>> eigenvalues(const Case& input) {
    std::vector<std::complex<double>> out;
    for (const Edge edge : {Edge::turn_on, Edge::turn_off})
        for (OperatingPoint point : operating_path(input).points) {
            point.edge = edge;
            for (const Mode& m : ModeSolver(input).solve(point).modes) out.push_back(m.eigenvalue);
        }
    return out;
}

struct Idle {
    std::vector<std::string> settings;
    std::string key, why;
    std::vector<std::string> useful;  // settings with which the same key does something
    double factor = 2;  // what the number is multiplied by to see that nothing changes; 0: no number
};

const std::vector<Idle> idle{
    {{"buses.gate={inductance: 1 nH}", "driver.per_position=buffer"},
     "buses.gate",
     "each position has its own driver, so there is no gate rail",
     {"driver.per_position=shared"},
     0},
    {{"buses.gate={inductance: 1 nH}", "driver.per_position=isolated"},
     "buses.gate",
     "each position has its own driver, so there is no gate rail",
     {"driver.per_position=shared"},
     0},
    {{"buses.kelvin={inductance: 1 nH}", "driver.per_position=isolated"},
     "buses.kelvin",
     "each position has its own isolated driver, so there is no Kelvin rail",
     {"driver.per_position=buffer"},
     0},
    {{"buses.drain={inductance: 1 nH}", "positions=1"},
     "buses.drain",
     "with one position a rail has no segments",
     {"positions=2"},
     0},
    {{"buses.drain={feed_at: 2}"},
     "buses.drain.feed_at",
     "the rail has neither inductance nor resistance, so its taps are one node",
     {"buses.drain={feed_at: 2, inductance: 1 nH}"},
     0},
    {{"driver.return_to=source_rail", "driver.per_position=isolated"},
     "driver.return_to",
     "an isolated driver returns at its own Kelvin tap",
     {"driver.per_position=buffer"},
     0},
    {{"driver.barrier_capacitance=3 pF"},
     "driver.barrier_capacitance",
     "only drivers with `per_position: isolated` have a barrier",
     {"driver.per_position=isolated"}},
    {{"driver.barrier_resistance=3 ohm"},
     "driver.barrier_resistance",
     "only drivers with `per_position: isolated` have a barrier",
     {"driver.per_position=isolated", "driver.barrier_capacitance=3 pF"}},
    {{"driver.barrier_resistance=3 ohm", "driver.per_position=isolated"},
     "driver.barrier_resistance",
     "it is in series with `driver.barrier_capacitance`, which is zero: an open barrier",
     {"driver.barrier_capacitance=3 pF"}},
    {{"power_loop.load.resistance=3 ohm"},
     "power_loop.load.resistance",
     "it is in series with `power_loop.load.capacitance`, which is zero",
     {"power_loop.load.capacitance=60 pF"}},
    {{"power_loop.complementary={capacitance: 0 pF, resistance: 2 ohm}"},
     "power_loop.complementary.resistance",
     "it is in series with `power_loop.complementary.capacitance`, which is zero",
     {"power_loop.complementary.capacitance=60 pF"}},
    {{"power_loop.dc_link={capacitance: 0 uF, esl: 2 nH}"},
     "power_loop.dc_link.esl",
     "`power_loop.dc_link.capacitance` is zero, so the power loop is open",
     {"power_loop.dc_link.capacitance=1 uF"}},
    {{"driver.bypass={capacitance: 0 uF, esr: 1 ohm}"},
     "driver.bypass.esr",
     "`driver.bypass.capacitance` is zero, so the driver is open while turning on",
     {"driver.bypass.capacitance=1 uF"}},
    {{"driver.turn_off_bypass={capacitance: 0 uF, esl: 1 nH}"},
     "driver.turn_off_bypass.esl",
     "`driver.turn_off_bypass.capacitance` is zero, so the driver is open while turning off",
     {"driver.turn_off_bypass.capacitance=1 uF"}},
    {{"snubber={capacitance: 0 pF, resistance: 3 ohm}"},
     "snubber.resistance",
     "it is in series with `snubber.capacitance`, which is zero",
     {"snubber.capacitance=100 pF"}},
    {{"snubber={capacitance: 0 pF, inductance: 3 nH}"},
     "snubber.inductance",
     "it is in series with `snubber.capacitance`, which is zero",
     {"snubber.capacitance=100 pF"}},
    {{"gate_shunt={capacitance: 0 pF, inductance: 3 nH}"},
     "gate_shunt.inductance",
     "it is in series with `gate_shunt.capacitance`, which is zero",
     {"gate_shunt.capacitance=100 pF"}},
    {{"gate_drain={capacitance: 0 pF, resistance: 3 ohm}"},
     "gate_drain.resistance",
     "it is in series with `gate_drain.capacitance`, which is zero",
     {"gate_drain.capacitance=100 pF"}},
    {{"tab={capacitance: 0 pF, resistance: 3 ohm}"},
     "tab.resistance",
     "it is in series with `tab.capacitance`, which is zero",
     {"tab.capacitance=100 pF"}},
    {{"tab={capacitance: 30 pF}", "positions=1"},
     "tab",
     "it joins the drains of several positions, and one alone has it",
     {"positions=2"},
     0},
    {{"tab[2]={capacitance: 30 pF}"},
     "tab",
     "it joins the drains of several positions, and one alone has it (position 2)",
     {"tab[1]={capacitance: 30 pF}"},
     0},
    {{"gate_path.resistor={turn_on: 0 ohm, turn_off: 2 ohm}",
      "gate_path.diode={blocks: turn_on, capacitance: 60 pF, on_resistance: 1 ohm}"},
     "gate_path.diode.capacitance",
     "the diode stands beside the gate resistor, which is zero, a wire, on the edge on which it blocks",
     {"gate_path.resistor=3 ohm"}},
    {{"gate_path.resistor={turn_on: 2 ohm, turn_off: 0 ohm}",
      "gate_path.diode={blocks: turn_on, capacitance: 60 pF, on_resistance: 1 ohm}"},
     "gate_path.diode.on_resistance",
     "the diode stands beside the gate resistor, which is zero, a wire, on the edge on which it conducts",
     {"gate_path.resistor=3 ohm"}},
    {{"gate_path.resistor=0 ohm",
      "gate_path.diode={blocks: turn_on, capacitance: 60 pF, on_resistance: 1 ohm}"},
     "gate_path.diode",
     "the diode stands beside the gate resistor, which is zero, a wire, on both edges",
     {"gate_path.resistor=3 ohm"},
     0},
    {{"common_mode_choke={inductance: 0 nH, leakage: 3 nH}"},
     "common_mode_choke.leakage",
     "`common_mode_choke.inductance` is zero, so there is no choke",
     {"common_mode_choke.inductance=300 nH"}},
    {{"common_mode_choke={inductance: 0 nH, resistance: 3 ohm}"},
     "common_mode_choke.resistance",
     "`common_mode_choke.inductance` is zero, so there is no choke",
     {"common_mode_choke.inductance=300 nH"}},
    {{"kelvin_path={inductance: 5 nH}", "driver.return_to=source_rail", "positions=1"},
     "kelvin_path",
     "the driver returns to the source rail and no other position has a Kelvin path, so no current flows in "
     "it",
     {"positions=2"},
     0},
    {{"leg={inductance: 4 nH, complementary: {capacitance: 90 pF}, dc_link: {capacitance: 0 nF}}"},
     "leg",
     "`leg.dc_link.capacitance` is zero, so the leg is open",
     {"leg.dc_link.capacitance=100 nF"},
     0},
    {{"leg={inductance: 4 nH, complementary: {resistance: 2 ohm}}"},
     "leg.complementary.resistance",
     "it is in series with `leg.complementary.capacitance`, which is zero",
     {"leg.complementary.capacitance=100 pF"}},
    {{"device.package={gate: 5 nH, drain: 2 nH, source: 3 nH, kelvin_resistance: 10 mohm}"},
     "device.package.kelvin_resistance",
     "without `device.package.kelvin` there is no Kelvin lead",
     {"device.package.kelvin=4 nH"}},
    {{"junction_temperature[2]=60 degC"},
     "junction_temperature",
     "nothing in the device depends on it; `transfer` curves of several temperatures and "
     "`gate_resistance.per_kelvin` do (position 2)",
     {"device.gate_resistance.per_kelvin=0.3 %"},
     0},
    {{"junction_temperature=60 degC", "device.gate_resistance.per_kelvin=0.3 %",
      "operation.junction_temperature=150 degC"},
     "operation.junction_temperature",
     "every position has a `junction_temperature` of its own",
     {"junction_temperature=", "junction_temperature[2]=60 degC"}},
    {{"device.capacitance={cgs: 2 nF, cgd: 10 pF, output_resistance: 1 ohm}"},
     "device.capacitance.output_resistance",
     "it is in series with `device.capacitance.cds`, which is zero",
     {"device.capacitance.cds=200 pF"}},
    {{"operation.points[1].gate_current=1 A"},
     "operation.points[1].gate_current",
     "it biases beads with `saturation`, and this case has none",
     {"gate_path.bead={resistance: 30 ohm, inductance: 100 nH, saturation: [[0 A, 1], [2 A, 0.5]]}"}},
};

}  // namespace

TEST_CASE("a key that does nothing where it stands is said with the reason, and really does nothing") {
    for (const Idle& i : idle) {
        CAPTURE(i.settings.front());
        CAPTURE(i.why);
        const Case input = case_text::read(case_text::base, i.settings);
        CHECK(said(input) == std::vector<std::string>{i.key + ": does nothing: " + i.why});
        CHECK(std::any_of(input.warnings.begin(), input.warnings.end(),
                          [&](const Warning& w) { return w.key == i.key && w.text.ends_with(i.why); }));
        if (i.factor != 0) {
            Case changed = input;
            for (double* v : find_number(changed, i.key).values) *v *= i.factor;
            CHECK(eigenvalues(changed) == eigenvalues(input));
        }
        std::vector<std::string> useful = i.settings;
        useful.insert(useful.end(), i.useful.begin(), i.useful.end());
        const Case does = case_text::read(case_text::base, useful);
        CHECK(said(does).empty());
        if (i.factor == 0 || i.key.ends_with("gate_current")) continue;
        Case changed = does;
        for (double* v : find_number(changed, i.key).values) *v *= i.factor;
        CHECK(eigenvalues(changed) != eigenvalues(does));
    }
}

TEST_CASE("stages that a walk has not are said where it is told how long they last") {
    const std::string file = std::string(RINGQUELL_CASES) + "/ropeway-first.yaml";
    CHECK(said(read_case(file, {"operation.path.durations={turn_on plateau: 10 ns}"})) ==
          std::vector<std::string>{
              "operation.path.durations.turn_on plateau: does nothing: only a cascode's walk has "
              "that stage"});
    CHECK(said(read_case(file, {"operation.path.durations={turn_off peak: 10 ns}"})) ==
          std::vector<std::string>{
              "operation.path.durations.turn_off peak: does nothing: without `peak_current` the "
              "walk has no such stage"});
    CHECK(said(read_case(file, {"operation.path.plateau=true"})) ==
          std::vector<std::string>{
              "operation.path.plateau: does nothing: only a cascode's walk has that stage"});
    CHECK(said(read_case(file, {"operation.path.durations={turn_on voltage: 10 ns}"})).empty());
}

TEST_CASE("no case that comes with this project has a key that does nothing") {
    int cases = 0;
    for (const std::string& folder :
         {std::string(RINGQUELL_CASES), std::string(RINGQUELL_TEST_DATA) + "/reference"})
        for (const auto& entry : std::filesystem::directory_iterator(folder)) {
            if (entry.path().extension() != ".yaml") continue;
            CAPTURE(entry.path().string());
            CHECK(said(read_case(entry.path().string())).empty());
            ++cases;
        }
    CHECK(cases >= 10);
}

TEST_CASE("a choke's leakage of four times its inductance or more is an input error with its place") {
    const auto error = [](const char* leakage) {
        return case_text::error_of(case_text::base +
                                   "common_mode_choke:\n  inductance: 100 nH\n  leakage: " + leakage + "\n");
    };
    CHECK(error("399.9 nH").empty());
    CHECK(error("400 nH") ==
          "a.yaml:25:12: common_mode_choke.leakage: found `400 nH`, expected less than four times the "
          "inductance of 100 "
          "nH, more than which two windings cannot leak (a few per cent is usual)");
    CHECK(error("500 nH").starts_with(
        "a.yaml:25:12: common_mode_choke.leakage: found `500 nH`, expected less than"));
}
