// Where cascodes stand: the inner node, the regions of the dice, and the walk that follows from them.
#include "devices/channel_state.h"
#include "ringquell/modes.h"
#include "support/curve_cases.h"
#include "support/relative.h"

using namespace ringquell;
using namespace ringquell::internal;
using case_text::contains, case_text::read, case_text::replaced;
using curve_cases::cascodes, curve_cases::path_error, curve_cases::path_of, curve_cases::point_of,
    curve_cases::warnings_of;

namespace {

const FormulaChannel mosfet{4.7, 25, 1.6, 1, 0.002};
const FormulaChannel jfet{-8.5, 6.8, 1.8, 5, 0.0002};

std::string at(const std::string& vds, const std::string& current) {
    return "points: [{name: here, edge: turn_off, vds: " + vds + ", current: " + current +
           ", complementary: blocking}]";
}

/// Both dice carry the device's current at the voltages that the point reports.
void check_currents(const OperatingPoint& point, const FormulaChannel& m, const FormulaChannel& j,
                    int position = 0) {
    CAPTURE(point.name);
    const DeviceValues& d = point.device(position);
    const ChannelState of_mosfet = channel_state(m, d.gate_voltage_v, d.inner_voltage_v);
    const ChannelState of_jfet = channel_state(j, d.jfet_gate_voltage_v, point.vds_v - d.inner_voltage_v);
    CHECK_RELATIVE(of_mosfet.current_a, d.current_a, 1e-11);
    CHECK_RELATIVE(of_jfet.current_a, d.current_a, 1e-11);
    CHECK(d.mosfet.transconductance_s == of_mosfet.transconductance_s);
    CHECK(d.mosfet.output_conductance_s == of_mosfet.output_conductance_s);
    CHECK(d.jfet.transconductance_s == of_jfet.transconductance_s);
    CHECK(d.jfet.output_conductance_s == of_jfet.output_conductance_s);
}

}  // namespace

TEST_CASE("at a point both dice carry the device's share, the JFET's gate at the MOSFET's source") {
    for (const std::string vds : {"1 V", "3 V", "20 V", "400 V", "800 V"})
        for (const std::string current : {"0.3 A", "30 A", "150 A"}) {
            if (vds == "1 V" && current == "150 A") continue;  // more than the JFET carries there
            const OperatingPoint point = point_of(path_of(cascodes(at(vds, current))), "here");
            check_currents(point, mosfet, jfet);
            CHECK_RELATIVE(point.device(0).current_a, point.current_a / 3, 1e-11);
            CHECK(point.device(0).jfet_gate_voltage_v == -point.device(0).inner_voltage_v);
        }
}

TEST_CASE(
    "where both dice are saturated the inner node is what pinches the JFET to the current, in closed form") {
    const std::vector<std::string> square{
        "device.mosfet.channel={threshold: 4 V, gain: 30 A, exponent: 2, knee_voltage: 0.1 V, output_slope: "
        "0 /V}",
        "device.jfet.channel={threshold: -8 V, gain: 4 A, exponent: 2, knee_voltage: 1 V, output_slope: 0 "
        "/V}"};
    const OperatingPoint point = point_of(path_of(cascodes(at("400 V", "108 A")), square), "here");
    CHECK_RELATIVE(point.device(0).inner_voltage_v, 8 - std::sqrt(36.0 / 4),
                   1e-13);  // tanh is 1 in double precision
    CHECK_RELATIVE(point.device(0).gate_voltage_v, 4 + std::sqrt(36.0 / 30), 1e-13);
    CHECK_RELATIVE(point.device(0).jfet.transconductance_s, 2 * 4 * 3, 1e-13);
    CHECK(point.device(0).mosfet.region == DieRegion::saturated);
    CHECK(point.device(0).jfet.region == DieRegion::saturated);
}

TEST_CASE("the walk of cascodes: onset, current and voltage transfer, and the plateau") {
    const OperatingPath path = path_of(cascodes());
    std::vector<std::string> names{"turn_off onset 1"};
    for (const std::string edge : {"turn_on", "turn_off"})
        for (const std::string stage : {"current", "voltage", "plateau"})
            for (int k = stage == "current" ? 0 : 1; k <= 5; ++k)
                names.push_back(fmt::format("{} {} {}", edge, stage, k));
    REQUIRE(path.points.size() == names.size());
    for (size_t i = 0; i < names.size(); ++i) {
        const OperatingPoint& point = path.points[i];
        CHECK(point.name == names[i]);
        const bool current = contains(point.name, " current ");
        CHECK(point.judged == !(current || contains(point.name, "plateau")));
        CHECK((point.complementary == Complementary::conducting) == current);
        if (current) {
            const double share = (point.name.back() - '0') / 5.0;
            CHECK(point.vds_v == 800);
            CHECK_RELATIVE(point.current_a, 200 * share, 1e-15);
        } else {
            CHECK(point.current_a == 200);
        }
        if (point.current_a == 0) {
            CHECK(point.device(0).mosfet.transconductance_s == 0);
            CHECK(point.device(0).jfet.output_conductance_s == 0);
            continue;
        }
        CHECK_RELATIVE(point.device(0).current_a, point.current_a / 3, 1e-11);
        check_currents(point, mosfet, jfet);
    }
    CHECK(path.warnings.empty());
}

TEST_CASE("stages that a case asks to be judged held are, and without a known dwell all are") {
    const auto held = [](const std::vector<std::string>& settings, const char* stage) {
        for (const OperatingPoint& p : path_of(cascodes("path: {steps: 3}"), settings).points)
            if (p.stage == stage) return p.judged;
        return false;
    };
    CHECK(!held({}, "turn_on plateau"));
    CHECK(held({"require.judge_held=[turn_on plateau]"}, "turn_on plateau"));
    CHECK(!held({"require.judge_held=[turn_on plateau]"}, "turn_on current"));
    CHECK(held({"require.judge_held=[all]"}, "turn_off current"));
    CHECK(held({"operation.drive.low=4.8 V"}, "turn_off current"));
    CHECK(!held({"operation.drive.low=4.8 V"}, "turn_on current"));
    for (const OperatingPoint& point : path_of(cascodes("path: {steps: 3, plateau: true}")).points)
        CHECK(point.judged == !contains(point.name, " current "));
}

TEST_CASE("at the onset of turn-off the MOSFET has just saturated, and the JFET is ohmic") {
    const OperatingPoint onset = point_of(path_of(cascodes()), "turn_off onset 1");
    CHECK_RELATIVE(std::tanh(onset.device(0).inner_voltage_v / mosfet.knee_voltage_v), saturated_share,
                   1e-13);
    CHECK(onset.device(0).mosfet.region == DieRegion::saturated);
    CHECK(onset.device(0).jfet.region == DieRegion::ohmic);
    CHECK(onset.edge == Edge::turn_off);
}

TEST_CASE(
    "in the voltage transfer the MOSFET is fully on and the JFET goes from its on state into saturation") {
    const OperatingPath path = path_of(cascodes());
    for (int k = 1; k <= 5; ++k) {
        const OperatingPoint& point = point_of(path, fmt::format("turn_on voltage {}", k));
        CHECK(point.device(0).gate_voltage_v == 18);
        CHECK(point.device(0).mosfet.region == DieRegion::ohmic);
        CHECK(point.device(0).jfet.region == (k <= 2 ? DieRegion::ohmic : DieRegion::saturated));
        CHECK(point.device(0).inner_voltage_v < 0.1);
    }
    const OperatingPoint& first = point_of(path, "turn_on voltage 1");
    // The on state is static: no drop across the JFET's gate resistor.
    CHECK_RELATIVE(first.device(0).jfet_gate_voltage_v, -first.device(0).inner_voltage_v, 1e-9);
    CHECK(point_of(path, "turn_on voltage 5").vds_v == 800);
    const double ratio = point_of(path, "turn_on voltage 2").vds_v / first.vds_v;
    CHECK_RELATIVE(std::pow(ratio, 4) * first.vds_v, 800, 1e-13);
}

TEST_CASE("the plateau begins where both dice are saturated, and ends at the bus voltage") {
    const OperatingPath path = path_of(cascodes());
    const OperatingPoint& first = point_of(path, "turn_on plateau 1");
    const double v = first.device(0).inner_voltage_v;
    CHECK_RELATIVE(std::min(v / mosfet.knee_voltage_v, (first.vds_v - v) / jfet.knee_voltage_v),
                   std::atanh(saturated_share), 1e-12);
    CHECK(point_of(path, "turn_off plateau 5").vds_v == 800);
    for (int k = 1; k <= 5; ++k) {
        const DeviceValues& d = point_of(path, fmt::format("turn_off plateau {}", k)).device(0);
        CHECK(d.mosfet.region == DieRegion::saturated);
        CHECK(d.jfet.region == DieRegion::saturated);
    }
}

TEST_CASE("cascodes that differ share one gate voltage, and the current divides") {
    const std::vector<std::string> differ{"device[2].jfet.channel.threshold=-7 V",
                                          "device[2].mosfet.channel.threshold=5 V"};
    FormulaChannel m = mosfet, j = jfet;
    m.threshold_v = 5;
    j.threshold_v = -7;
    const OperatingPoint point = point_of(path_of(cascodes(at("400 V", "150 A")), differ), "here");
    REQUIRE(point.devices.size() == 3);
    CHECK(point.device(1).gate_voltage_v == point.device(0).gate_voltage_v);
    CHECK(point.device(1).inner_voltage_v < point.device(0).inner_voltage_v);
    CHECK_RELATIVE(2 * point.device(0).current_a + point.device(1).current_a, 150, 1e-10);
    check_currents(point, mosfet, jfet);
    check_currents(point, m, j, 1);
    const OperatingPoint transfer = point_of(path_of(cascodes(), differ), "turn_off voltage 3");
    CHECK_RELATIVE(2 * transfer.device(0).current_a + transfer.device(1).current_a, 200, 1e-10);
    check_currents(transfer, m, j, 1);
    // One drop at the JFETs' gates.
    const auto drop = [&](int k) {
        return transfer.device(k).jfet_gate_voltage_v + transfer.device(k).inner_voltage_v;
    };
    CHECK_RELATIVE(drop(0), drop(1), 1e-12);
}

TEST_CASE("dice given by curves are solved as those given by formulas, to the curves' precision") {
    std::string points;
    for (int k = 0; k <= 100; ++k) {
        const double vgs = -8.5 + 0.085 * k;
        points += fmt::format("{}[{} V, {} A]", k > 0 ? ", " : "", vgs, 6.8 * std::pow(0.085 * k, 1.8));
    }
    const std::string curve = "device.jfet.channel={transfer: {points: [" + points +
                              "]}, knee_voltage: 5 V, output_slope: 0.0002 /V}";
    const OperatingPath exact = path_of(cascodes()), sampled = path_of(cascodes(), {curve});
    REQUIRE(exact.points.size() == sampled.points.size());
    for (size_t i = 0; i < exact.points.size(); ++i) {
        const DeviceValues &a = exact.points[i].device(0), &b = sampled.points[i].device(0);
        CHECK_RELATIVE(a.jfet.transconductance_s, b.jfet.transconductance_s, 1e-3);
        CHECK_RELATIVE(a.inner_voltage_v, b.inner_voltage_v, 1e-3);
    }
}

TEST_CASE("the MOSFET's avalanche voltage holds the inner node") {
    // Position 2 avalanches before its JFET pinches off; its JFET then carries the current of that gate
    // voltage.
    const std::vector<std::string> settings{"device[2].mosfet.avalanche_voltage=6 V",
                                            "device[2].mosfet.channel.threshold=6 V"};
    const double floor = channel_state(jfet, -6, 400 - 6).current_a;
    const std::string current = fmt::format("{} A", floor + 4);
    const OperatingPoint point = point_of(path_of(cascodes(at("400 V", current)), settings), "here");
    const DeviceValues& held = point.device(1);
    CHECK(held.inner_voltage_v == 6);
    CHECK(held.mosfet.region == DieRegion::avalanche);
    CHECK(held.jfet.region == DieRegion::saturated);
    CHECK_RELATIVE(held.current_a, floor, 1e-13);
    CHECK_RELATIVE(2 * point.device(0).current_a + held.current_a, floor + 4, 1e-10);
    CHECK(held.mosfet.output_conductance_s > 100 * held.jfet.transconductance_s);
    CHECK(point.device(0).mosfet.region == DieRegion::saturated);
    const std::string error =
        path_error(cascodes(at("400 V", "3 A")), {"device.mosfet.avalanche_voltage=6 V"});
    CHECK(contains(error, "here: found 3 A at 400 V, but the JFET carries"));
    CHECK(contains(error, "the MOSFET's avalanche voltage, 6 V, keeps the JFET's gate from a lower voltage"));
    // An avalanche voltage beyond pinch-off changes nothing.
    CHECK(path_of(cascodes(), {"device.mosfet.avalanche_voltage=9 V"}).points.back().devices ==
          path_of(cascodes()).points.back().devices);
}

TEST_CASE("where there is no static solution the error says which die, and why") {
    CHECK(contains(path_error(cascodes(at("400 V", "3000 A"))),
                   "here: found 3000 A at 400 V, but the JFET carries less than"));
    CHECK(contains(path_error(cascodes(), {"operation.load_current=3000 A"}),
                   "turn_on voltage 1: found 3000 A, but"));
    const std::string mosfet_curve =
        "device.mosfet.channel={transfer: {points: [[4 V, 0 A], [6 V, 8 A], [7 V, 16 A]]}, knee_voltage: 1 "
        "V}";
    CHECK(contains(path_error(cascodes(at("400 V", "150 A")), {mosfet_curve}),
                   "at 7 V of gate voltage, where the MOSFET's transfer curve ends"));
    const std::string jfet_curve =
        "device.jfet.channel={transfer: {points: [[-8 V, 0 A], [-4 V, 80 A], [-3 V, 110 A]]}, knee_voltage: "
        "5 V}";
    CHECK(contains(path_error(cascodes(), {jfet_curve}),
                   "needs the JFET at a gate-source voltage outside its curve, -inf V to -3 V"));
    CHECK(contains(path_error(cascodes(), {"device.jfet.channel={transconductance: 3 S}"}),
                   "device.jfet.channel: found fixed values beside a formula or curves for the other die"));
    const std::vector<std::string> fixed{
        "device.jfet.channel={transconductance: 3 S}",
        "device.mosfet.channel={transconductance: 3 S, output_conductance: 9 S}",
        "device.jfet.capacitance={table: [{vds: 0 V, ciss: 3 nF, coss: 2 nF, crss: 1 nF}, {vds: 800 V, ciss: "
        "2 nF, coss: "
        "1 nF, crss: 0.5 nF}]}"};
    CHECK(contains(path_error(cascodes(), fixed),
                   "device.jfet.capacitance: found a table, but a cascode's fixed channels"));
}

TEST_CASE("each die's capacitances are those at its own voltage") {
    const auto table = [](const std::string& die, double last) {
        return fmt::format(
            "device.{}.capacitance={{gate_voltage: 0 V, table: [{{vds: 0 V, ciss: 3 nF, coss: 2 nF, crss: 1 "
            "nF}}, {{vds: {} V, "
            "ciss: 2 nF, coss: "
            "1 nF, crss: 0.1 nF}}]}}",
            die, last);
    };
    const OperatingPath path =
        path_of(cascodes(at("400 V", "150 A")), {table("mosfet", 10), table("jfet", 800)});
    const DeviceValues& d = path.points.front().device(0);
    const auto crss =
        [](double v, double last) {  // two points: log C is linear in log(1 + v/v0), v0 the first above 0 V
            return 1e-9 * std::pow(0.1, std::log1p(v / last) / std::log(2.0));
        };
    // The MOSFET's gate lies above its drain: below the table's first row, where cgd stays.
    REQUIRE(d.inner_voltage_v < d.gate_voltage_v);
    CHECK_RELATIVE(d.mosfet.cgd_f, 1e-9, 1e-14);
    CHECK(path.points.front().cgd_below_table);
    CHECK_RELATIVE(d.jfet.cgd_f, crss(400, 800), 1e-12);  // its gate is at the MOSFET's source
    CHECK(path.warnings.empty());
    CHECK(warnings_of(path_of(cascodes(at("400 V", "150 A")), {table("mosfet", 1)}),
                      "device.mosfet.capacitance.table") == 1);
}

TEST_CASE("a MOSFET that cannot saturate before its JFET pinches off has neither onset nor plateau") {
    const OperatingPath path = path_of(cascodes(), {"device.mosfet.channel.knee_voltage=6 V"});
    CHECK(path.points.size() == 22);
    CHECK(warnings_of(path, "operation.path") == 1);
}
