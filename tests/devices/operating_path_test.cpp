#include "ringquell/operating_path.h"

#include "devices/channel_state.h"
#include "numerics/curve.h"
#include "ringquell/modes.h"
#include "ringquell/network.h"
#include "support/curve_cases.h"
#include "support/relative.h"
#include "test_paths.h"

using namespace ringquell;
using namespace ringquell::internal;
using case_text::contains, case_text::read, case_text::replaced;
using curve_cases::formula, curve_cases::formula_channel, curve_cases::mosfets, curve_cases::path_error,
    curve_cases::path_of, curve_cases::point_of, curve_cases::sampled, curve_cases::warnings_of;

namespace {

const std::string at_400_v =
    "points: [{name: here, edge: turn_on, vds: 400 V, current: 150 A, complementary: blocking}]";

/// Gate voltage of the formula at a current of one device: its equation solved by hand.
double gate_voltage(double current_a, double vds_v) {
    const FormulaChannel& c = formula_channel;
    const double saturated =
        current_a / ((1 + *c.output_slope_per_v * vds_v) * std::tanh(vds_v / c.knee_voltage_v));
    return c.threshold_v + std::pow(saturated / c.gain_a, 1 / c.exponent);
}

}  // namespace

TEST_CASE("the walk of MOSFETs has its stages on both edges, both ends included") {
    const OperatingPath path = path_of(mosfets(formula, "path: {steps: 5, peak_current: 260 A}"));
    std::vector<std::string> names;
    for (const std::string edge : {"turn_on", "turn_off"})
        for (const std::string stage : {"current", "voltage", "peak"})
            for (int k = stage == "current" ? 0 : 1; k <= 5; ++k)
                names.push_back(fmt::format("{} {} {}", edge, stage, k));
    REQUIRE(path.points.size() == names.size());
    for (size_t i = 0; i < names.size(); ++i) CHECK(path.points[i].name == names[i]);

    const auto& points = path.points;
    // At the threshold: no current, no gain.
    CHECK(points[0].current_a == 0);
    CHECK_RELATIVE(points[0].device(0).gate_voltage_v, formula_channel.threshold_v, 1e-15);
    CHECK(points[0].device(0).mosfet.transconductance_s == 0);
    CHECK(points[0].device(0).mosfet.output_conductance_s == 0);
    CHECK(points[0].device(0).mosfet.region == DieRegion::off);
    for (size_t k = 0; k <= 5; ++k) {
        if (k > 0) CHECK_RELATIVE(points[k].current_a, 200 * static_cast<double>(k) / 5, 1e-15);
        CHECK(points[k].vds_v == 800);
        CHECK(points[k].complementary == Complementary::conducting);
        CHECK(points[k].stage == "turn_on current");
        CHECK(points[k].judged);
    }
    for (size_t k = 6; k <= 10; ++k) {
        CHECK(points[k].current_a == 200);
        CHECK(points[k].complementary == Complementary::blocking);
    }
    CHECK(points[10].vds_v == 800);
    for (size_t k = 7; k < 10; ++k)
        CHECK_RELATIVE(points[k].vds_v / points[k - 1].vds_v, points[k + 1].vds_v / points[k].vds_v, 1e-13);
    CHECK(points[11].current_a == 200);
    CHECK(points[15].current_a == 260);
    CHECK(points[15].complementary == Complementary::conducting);
}

TEST_CASE("the voltage transfer begins where the channels carry the load current at drive.high") {
    const OperatingPoint first = point_of(path_of(mosfets(formula)), "turn_on voltage 1");
    CHECK_RELATIVE(channel_state(formula_channel, 18, first.vds_v).current_a, 200.0 / 3, 1e-13);
    CHECK_RELATIVE(first.device(0).gate_voltage_v, 18, 1e-12);
    CHECK(first.device(0).mosfet.region == DieRegion::ohmic);
}

TEST_CASE("alike devices share the current, and the gate voltage is the formula solved for it") {
    const OperatingPoint point = point_of(path_of(mosfets(formula, at_400_v)), "here");
    REQUIRE(point.devices.size() == 1);
    const DeviceValues& d = point.device(2);
    CHECK(d.solved);
    CHECK_RELATIVE(d.current_a, 50, 1e-13);
    CHECK_RELATIVE(d.gate_voltage_v, gate_voltage(50, 400), 1e-14);
    CHECK_RELATIVE(d.mosfet.transconductance_s, 1.7 * 50 / (d.gate_voltage_v - 4.1), 1e-13);
    CHECK(d.mosfet.region == DieRegion::saturated);
}

TEST_CASE("devices that differ share one gate voltage, and the current divides as their curves say") {
    const OperatingPoint point =
        point_of(path_of(mosfets(formula, at_400_v), {"device[2].channel.threshold=4.6 V"}), "here");
    REQUIRE(point.devices.size() == 3);
    CHECK(point.device(0) == point.device(2));
    CHECK(point.device(1).gate_voltage_v == point.device(0).gate_voltage_v);
    CHECK_RELATIVE(point.device(0).current_a + point.device(1).current_a + point.device(2).current_a, 150,
                   1e-13);
    FormulaChannel other = formula_channel;
    other.threshold_v = 4.6;
    const ChannelState state = channel_state(other, point.device(1).gate_voltage_v, 400);
    CHECK_RELATIVE(point.device(1).current_a, state.current_a, 1e-14);
    CHECK_RELATIVE(point.device(1).mosfet.transconductance_s, state.transconductance_s, 1e-14);
}

TEST_CASE("a curve sampled from the formula gives the formula's modes to the interpolation's order") {
    // At many currents, since the error of a slope vanishes somewhere between two points of the curve.
    std::string points;
    for (int current = 90; current <= 700; current += 10)
        points +=
            fmt::format("{}{{name: p{}, edge: turn_on, vds: 400 V, current: {} A, complementary: blocking}}",
                        points.empty() ? "" : ", ", current, current);
    const auto eigenvalues = [&](const std::string& channel) {
        const Case input = read(mosfets(channel, "points: [" + points + "]"));
        std::vector<std::complex<double>> out;
        ModeSolver solver(input);
        for (const OperatingPoint& point : operating_path(input).points)
            for (const Mode& mode : solver.solve(point).modes)
                if (mode.oscillates() && in_band(mode, input.require)) out.push_back(mode.eigenvalue);
        return out;
    };
    const auto exact = eigenvalues(formula);
    const auto rms = [&](double spacing_v) {
        const auto found = eigenvalues(sampled(spacing_v));
        REQUIRE(found.size() == exact.size());
        double sum = 0;
        for (size_t i = 0; i < found.size(); ++i) sum += std::norm((found[i] - exact[i]) / exact[i]);
        return std::sqrt(sum / static_cast<double>(found.size()));
    };
    REQUIRE(exact.size() >= 62);
    const double coarse = rms(1), fine = rms(0.5), finest = rms(0.25);
    CHECK(coarse < 1e-2);
    CHECK(coarse / fine > 3.5);  // 2², as gm
    CHECK(fine / finest > 3.5);
}

TEST_CASE("a current beyond the curve is an error that names the first point of the path that needs it") {
    const std::string curve =
        "{transfer: {points: [[4 V, 0 A], [8 V, 30 A], [10 V, 45 A]]}, knee_voltage: 9 V, output_slope: 0 "
        "/V}";
    CHECK(path_error(mosfets(curve)) ==
          "a.yaml:18:3: turn_on current 4: found 160 A at 800 V, but the switch carries 135 A at 10 V of "
          "gate voltage, "
          "where the transfer curve ends; expected a current within the curve");
    CHECK(contains(path_error(mosfets(curve, at_400_v)), "here: found 150 A at 400 V, but"));
    const std::string late =
        "{transfer: {points: [[4 V, 3 A], [8 V, 30 A], [10 V, 90 A]]}, knee_voltage: 9 V, output_slope: 0 "
        "/V}";
    CHECK(contains(path_error(mosfets(late, replaced(at_400_v, "150 A", "6 A"))),
                   "the transfer curve begins at 9 A"));
    CHECK(contains(path_error(mosfets(formula, replaced(at_400_v, "150 A", "-6 A"))),
                   "here: found -6 A at 400 V, expected a current that is not negative"));
}

TEST_CASE("a load that drive.high does not carry is an error at the point where the transfer begins") {
    CHECK(contains(path_error(mosfets(formula), {"operation.drive.high=6 V"}),
                   "turn_on voltage 1: found 200 A, but at a "
                   "gate voltage of 6 V the switch carries"));
}

TEST_CASE("where a curve ends below drive.high the devices count as fully on at its end, with a warning") {
    const OperatingPath path =
        path_of(mosfets("{transfer: {points: [[4 V, 0 A], [8 V, 60 A], [12 V, 150 A]]}, knee_voltage: 9 V, "
                        "output_slope: 0 /V}"));
    CHECK(warnings_of(path, "operation.drive.high") == 1);
    CHECK_RELATIVE(point_of(path, "turn_on voltage 1").vds_v, 9 * std::atanh(200.0 / 3 / 150), 1e-12);
    CHECK_RELATIVE(point_of(path, "turn_off voltage 1").device(0).gate_voltage_v, 12, 1e-12);
}

TEST_CASE("a point that needs more gate voltage than the drive gives is a warning") {
    CHECK(warnings_of(path_of(mosfets(formula, replaced(at_400_v, "150 A", "5000 A"))), "operation.drive") ==
          1);
    CHECK(warnings_of(path_of(mosfets(formula, at_400_v)), "operation.drive") == 0);
}

TEST_CASE("the path is repeated for every junction temperature, and the names say which") {
    const std::string text = mosfets(
        "{transfer: {25 degC: {points: [[4 V, 0 A], [8 V, 60 A], [20 V, 300 A]]}, 125 degC: {points: [[3 V, "
        "0 A], [8 V, "
        "50 A], [20 V, 250 A]]}}, knee_voltage: 9 V, output_slope: 0 /V}",
        "path: {steps: 2}\n  " + at_400_v);
    const std::vector<std::string> settings{"device.gate_resistance={value: 1 ohm, per_kelvin: 0.3 %}"};
    auto with = [&](const std::string& temperatures) {
        auto all = settings;
        all.push_back("operation.junction_temperature=" + temperatures);
        return path_of(text, all);
    };
    const OperatingPath both = with("[25 degC, 125 degC]"), hot = with("125 degC");
    REQUIRE(both.points.size() == 2 * hot.points.size());
    for (size_t i = 0; i < hot.points.size(); ++i) {
        const OperatingPoint& p = both.points[hot.points.size() + i];
        CHECK(p.name == hot.points[i].name + " at 125 degC");
        CHECK(p.devices == hot.points[i].devices);
        CHECK(p.junction_temperature_degc == 125);
    }
    CHECK(both.points.front().name == "here at 25 degC");
    CHECK(point_of(both, "turn_on current 1 at 25 degC").stage == "turn_on current");
    CHECK_RELATIVE(point_of(both, "here at 125 degC").device(0).gate_resistance_ohm, 1.3, 1e-14);
    CHECK(point_of(both, "here at 25 degC").device(0).gate_resistance_ohm == 1);
    CHECK(contains(path_error(text, {"operation.junction_temperature=[25 degC, 140 degC]"}),
                   "device.channel.transfer: found curves for 25 degC to 125 degC"));
    CHECK(contains(path_error(text, {"device.gate_resistance={value: 1 ohm, per_kelvin: -2 %}",
                                     "operation.junction_temperature=120 degC"}),
                   "device.gate_resistance: found -0.9 ohm at 120 degC"));
}

TEST_CASE("a position with a junction temperature of its own is at it at every point") {
    const std::string curve_25 = "{points: [[4 V, 0 A], [8 V, 60 A], [20 V, 300 A]]}",
                      curve_125 = "{points: [[3 V, 0 A], [8 V, 50 A], [20 V, 250 A]]}";
    const std::string rest = ", knee_voltage: 9 V, output_slope: 0 /V}";
    const std::string text =
        mosfets("{transfer: {25 degC: " + curve_25 + ", 125 degC: " + curve_125 + "}" + rest,
                "path: {steps: 3}\n  " + at_400_v);
    const std::string warm = "device.gate_resistance={value: 1 ohm, per_kelvin: 0.3 %}";
    const OperatingPath own = path_of(text, {warm, "junction_temperature[2]=125 degC"});
    // The same by its values: a curve without a temperature holds at any.
    const OperatingPath by_hand = path_of(
        text, {"device.gate_resistance=1 ohm", "device.channel={transfer: " + curve_25 + rest,
               "device[2].gate_resistance=1.3 ohm", "device[2].channel={transfer: " + curve_125 + rest});
    REQUIRE(own.points.size() == by_hand.points.size());
    for (size_t i = 0; i < own.points.size(); ++i) {
        CAPTURE(own.points[i].name);
        CHECK(own.points[i].junction_temperature_degc == 25);
        CHECK(own.points[i].position_temperatures_degc == std::vector<double>{25, 125, 25});
        REQUIRE(own.points[i].devices.size() == 3);
        for (int k = 0; k < 3; ++k) {
            const DeviceValues &a = own.points[i].device(k), &b = by_hand.points[i].device(k);
            CHECK(a.mosfet == b.mosfet);
            CHECK_RELATIVE(a.gate_resistance_ohm, b.gate_resistance_ohm, 1e-14);
        }
    }
    // A list of temperatures is walked for the others; nothing is extrapolated for it either.
    const OperatingPath both = path_of(text, {warm, "junction_temperature[2]=75 degC",
                                              "operation.junction_temperature=[25 degC, 125 degC]"});
    CHECK(both.points.back().position_temperatures_degc == std::vector<double>{125, 75, 125});
    CHECK(contains(path_error(text, {"junction_temperature[2]=140 degC"}),
                   "expected the junction temperature, 140 degC, among them"));
    // All of one temperature are alike, as with that of the operation.
    const OperatingPath alike = path_of(text, {warm, "junction_temperature=125 degC"}),
                        hot = path_of(text, {warm, "operation.junction_temperature=125 degC"});
    for (size_t i = 0; i < hot.points.size(); ++i) CHECK(alike.points[i].devices == hot.points[i].devices);
}

TEST_CASE("capacitances follow the voltage that each die and the complementary device sees") {
    const std::string text = replaced(
        mosfets(formula,
                "path: {steps: 3}\n  points: [{name: here, edge: turn_on, vds: 100 V, current: 150 A, "
                "complementary: blocking}, {name: over, edge: turn_on, vds: 1000 V, current: 150 A, "
                "complementary: blocking}]"),
        "{cgs: 2.3 nF, cgd: 14 pF, cds: 190 pF}",
        "{table: [{vds: 0 V, ciss: 3 nF, coss: 2 nF, crss: 0.9 nF}, {vds: 100 V, ciss: 2.6 nF, coss: 400 pF, "
        "crss: 20 "
        "pF}, {vds: 800 V, ciss: 2.5 nF, coss: 200 pF, crss: 9 pF}]}");
    const std::vector<std::string> settings{
        "power_loop.complementary.capacitance={points: [[0 V, 2 nF], [700 V, 210 pF], [800 V, 200 pF]]}",
        "leg[2]={inductance: 2 nH, complementary: {capacitance: {points: [[0 V, 1 nF], [700 V, 99 pF]]}}}"};
    const OperatingPath path = path_of(text, settings);
    const OperatingPoint& here = point_of(path, "here");
    // cgd at the drain-gate voltage, below 100 V by the gate's: between the rows for 0 V and 100 V.
    const CapacitanceInterpolant reverse({{0, 0.9e-9}, {100, 20e-12}, {800, 9e-12}});
    CHECK_RELATIVE(here.device(0).mosfet.cgd_f, reverse.capacitance_f(100 - here.device(0).gate_voltage_v),
                   1e-13);
    CHECK(here.device(0).mosfet.cgd_f > 21e-12);
    CHECK_RELATIVE(here.device(0).mosfet.cgs_f, 2580e-12, 1e-13);
    CHECK_RELATIVE(here.device(0).mosfet.cds_f, 380e-12, 1e-13);
    CHECK_RELATIVE(here.complementary_capacitance_f, 210e-12, 1e-13);
    REQUIRE(here.leg_capacitance_f.size() == 3);
    CHECK(here.leg_capacitance_f[0] == 0);
    CHECK_RELATIVE(here.leg_capacitance_f[1], 99e-12, 1e-13);
    // Outside the tables their ends hold, which is said once.
    CHECK_RELATIVE(point_of(path, "over").device(0).mosfet.cgd_f, 9e-12, 1e-13);
    CHECK_RELATIVE(point_of(path, "over").complementary_capacitance_f, 2e-9, 1e-13);
    CHECK(warnings_of(path, "device.capacitance.table") == 1);
    CHECK(warnings_of(path, "power_loop.complementary.capacitance") == 1);
    CHECK(warnings_of(path, "leg.complementary.capacitance") == 1);
    // What the leg's network holds is this capacitance.
    const Network network = build_network(read(text, settings), here);
    for (const Element& e : network.elements)
        if (e.name == "leg.complementary.capacitance" && e.position == 2)
            CHECK_RELATIVE(e.value, 99e-12, 1e-13);
    const std::string no_bus = replaced(mosfets(formula, at_400_v), "  bus_voltage: 800 V\n", "");
    CHECK(contains(path_error(no_bus, {settings[0]}),
                   "operation.bus_voltage: missing, but `power_loop.complementary.capacitance` is a curve"));
}

TEST_CASE("the gate current is what the drive pushes through the resistances that it meets") {
    const std::vector<std::string> bead{
        "gate_path.bead={dc_resistance: 0.3 ohm, resistance: 60 ohm, inductance: 80 nH, saturation: [[0 A, "
        "1], [1 A, 50 "
        "%]]}",
        "kelvin_path.resistor=0.2 ohm"};
    const auto here = [&](std::vector<std::string> more, const std::string& edge = "turn_on") {
        more.insert(more.end(), bead.begin(), bead.end());
        return point_of(path_of(mosfets(formula, replaced(at_400_v, "turn_on", edge)), more), "here");
    };
    const double own = 4.7 + 0.3 + 0.2 + 1.1, vgs = gate_voltage(50, 400);
    CHECK(here({}).gate_current_estimated);
    CHECK_RELATIVE(here({}).gate_current_a, (18 - vgs) / (own + 3 * 0.9), 1e-12);  // three share the driver
    CHECK_RELATIVE(here({}, "turn_off").gate_current_a, (vgs + 4) / (own + 3 * 0.5), 1e-12);
    CHECK_RELATIVE(here({"driver.per_position=buffer"}).gate_current_a, (18 - vgs) / (own + 0.9), 1e-12);
    const std::string diode =
        "gate_path.diode={blocks: turn_on, capacitance: 10 pF, on_resistance: 0.3 ohm, resistor: 1 ohm}";
    CHECK_RELATIVE(here({diode}).gate_current_a, here({}).gate_current_a, 1e-15);
    CHECK_RELATIVE(here({diode}, "turn_off").gate_current_a,
                   (vgs + 4) / (own - 4.7 + 4.7 * 1.3 / 6.0 + 3 * 0.5), 1e-12);
    const OperatingPoint given = here({"operation.points[1].gate_current=0.7 A"});
    CHECK(given.gate_current_a == 0.7);
    CHECK(!given.gate_current_estimated);
}

TEST_CASE("a gate current that a saturating bead needs and nothing tells is 0, with one warning") {
    const std::string setting =
        "gate_path.bead={resistance: 60 ohm, inductance: 80 nH, saturation: [[0 A, 1], [1 A, 50 %]]}";
    const std::string fixed = mosfets("{transconductance: 38 S, output_conductance: 60 mS}");
    const OperatingPath path = path_of(fixed, {setting});
    CHECK(warnings_of(path, "bead.saturation") == 1);
    CHECK(path.points.front().gate_current_a == 0);
    CHECK(warnings_of(path_of(fixed), "bead.saturation") == 0);
    CHECK(warnings_of(path_of(mosfets(formula), {setting}), "bead.saturation") == 0);
}

TEST_CASE("fixed values keep their walk: one set of values, and a warning where it begins") {
    const OperatingPath path = path_of(mosfets("{transconductance: 38 S, output_conductance: 60 mS}"));
    CHECK(path.points.size() == 20);
    CHECK(warnings_of(path, "operation.path") == 1);
    CHECK(point_of(path, "turn_on voltage 1").vds_v == 8);  // 200 A/(3·60 mS) is above the bus voltage
    for (const OperatingPoint& point : path.points) CHECK(point.devices == path.points.front().devices);
    CHECK(!path.points.front().device(0).solved);
    CHECK(path.points.front().device(0).mosfet.region == DieRegion::unknown);
}

TEST_CASE("the invented parts can be read, walked hot and cold, and solved") {
    const std::string parts = std::string(RINGQUELL_CASES) + "/parts/";
    for (const std::string device : {"sic-mosfet.yaml", "sic-cascode.yaml"})
        for (const std::string bead : {"bead-sections.yaml", "bead-curve.yaml"}) {
            CAPTURE(device);
            CAPTURE(bead);
            std::string text = mosfets(formula);
            const size_t from = text.find("device:"), to = text.find("gate_path:");
            text.replace(from, to - from, "device: {file: " + parts + device + "}\n");
            const Case input = read(text, {"gate_path.bead={file: " + parts + bead + "}",
                                           "operation.junction_temperature=[25 degC, 100 degC, 150 degC]"});
            for (const Warning& warning : input.warnings) CHECK(!contains(warning.key, "bead"));
            const OperatingPath path = operating_path(input);
            CHECK(path.warnings.empty());
            ModeSolver solver(input);
            CHECK(!solver.solve(path.points.back()).modes.empty());
        }
}
