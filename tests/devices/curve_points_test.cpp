// Device values at operating points, recomputed from the formulas of docs/model.md alone: channel,
// capacitance tables at their rows, static solutions by bisection. Nothing of the library but the points that
// it gives.
//
// A table is read between its rows by an interpolant that the model does not prescribe, so rows are put where
// the points read them, or points where the rows are.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <functional>
#include <map>

#include "ringquell/check.h"
#include "ringquell/report.h"
#include "support/case_text.h"
#include "support/curve_cases.h"
#include "support/relative.h"
#include "test_paths.h"

using namespace ringquell;

namespace {

constexpr double tight = 1e-9;  // what voltages solved to a few ulp leave of currents and slopes

// ---- by hand
// ------------------------------------------------------------------------------------------------

/// The zero of a rising function.
double bisect(const std::function<double(double)>& f, double low, double high) {
    for (int k = 0; k < 200; ++k) {
        const double middle = 0.5 * (low + high);
        (f(middle) < 0 ? low : high) = middle;
    }
    return 0.5 * (low + high);
}

struct Formula {
    double threshold, gain, exponent, knee, slope;
    double over(double vgs) const { return std::max(0.0, vgs - threshold); }
    double current(double vgs, double vds) const {
        return gain * std::pow(over(vgs), exponent) * (1 + slope * vds) * std::tanh(vds / knee);
    }
    double gm(double vgs, double vds) const {
        return exponent * gain * std::pow(over(vgs), exponent - 1) * (1 + slope * vds) *
               std::tanh(vds / knee);
    }
    double gds(double vgs, double vds) const {
        const double decay = std::exp(-2 * vds / knee);
        const double sech_squared = 4 * decay / ((1 + decay) * (1 + decay));
        return gain * std::pow(over(vgs), exponent) *
               (slope * std::tanh(vds / knee) + (1 + slope * vds) * sech_squared / knee);
    }
    /// The gate voltage at which it carries the current.
    double gate_voltage(double current_a, double vds) const {
        return bisect([&](double v) { return current(v, vds) - current_a; }, threshold, threshold + 100);
    }
};

struct Row {
    double ciss, coss, crss;  // pF
};

void check_channel(const DieValues& die, const Formula& channel, double vgs, double vds) {
    INFO("vgs ", vgs, ", vds ", vds);
    CHECK_RELATIVE(die.transconductance_s, channel.gm(vgs, vds), tight);
    CHECK_RELATIVE(die.output_conductance_s, channel.gds(vgs, vds), tight);
}

/// cgs and cds of one row, cgd of another.
void check_capacitance(const DieValues& die, const Row& own, const Row& reverse) {
    CHECK_RELATIVE(die.cgs_f, (own.ciss - own.crss) * 1e-12, tight);
    CHECK_RELATIVE(die.cds_f, (own.coss - own.crss) * 1e-12, tight);
    CHECK_RELATIVE(die.cgd_f, reverse.crss * 1e-12, tight);
}

// ---- a MOSFET
// -----------------------------------------------------------------------------------------------

const Formula mosfet{4.1, 5.5, 1.7, 9, 0.0004};
constexpr double parallel_mosfets = 3;  // positions of case_text::base, 200 A at 800 V
constexpr int steps = 5;
constexpr double taken_at_v = -3;  // gate voltage at which the table was taken

/// Some capacitance at any voltage: the table has a row wherever it is read.
Row row_at(double vds) {
    return {2300 + 900 / (1 + vds / 7), 190 + 1700 / std::sqrt(1 + vds / 3), 12 + 700 / (1 + vds / 2)};
}

struct HandPoint {
    std::string name;
    double vds, vgs;
};

/// The walk of both edges by hand: without the points at which nothing flows.
std::vector<HandPoint> walk_by_hand(const Formula& channel) {
    std::vector<HandPoint> out;
    const double each = 200 / parallel_mosfets, bus = 800;
    const double on_state = bisect([&](double v) { return channel.current(18, v) - each; }, 0, bus);
    for (const std::string edge : {"turn_on", "turn_off"})
        for (int k = 1; k <= steps; ++k) {
            out.push_back(
                {fmt::format("{} current {}", edge, k), bus, channel.gate_voltage(each * k / steps, bus)});
            const double vds = on_state * std::pow(bus / on_state, (k - 1.0) / (steps - 1));
            out.push_back({fmt::format("{} voltage {}", edge, k), vds, channel.gate_voltage(each, vds)});
        }
    return out;
}

/// A table with a row at each voltage that the points read, and at 0 V.
std::string table_for(const std::vector<HandPoint>& points, double gate_voltage) {
    std::map<double, Row> rows{{0, row_at(0)}};
    for (const HandPoint& p : points)
        for (const double v : {p.vds, p.vds - p.vgs + gate_voltage})
            if (v > 0) {
                const auto near = rows.lower_bound(v * (1 - 1e-12));
                if (near == rows.end() || near->first > v * (1 + 1e-12)) rows[v] = row_at(v);
            }
    std::string out = fmt::format("{{gate_voltage: {} V, table: [", gate_voltage);
    for (const auto& [v, row] : rows)
        out += fmt::format("{{vds: {:.17g} V, ciss: {:.17g} pF, coss: {:.17g} pF, crss: {:.17g} pF}}, ", v,
                           row.ciss, row.coss, row.crss);
    return out + "]}";
}

std::string formula(const Formula& c, bool with_slope = true) {
    return fmt::format("{{threshold: {} V, gain: {} A, exponent: {}, knee_voltage: {} V{}}}", c.threshold,
                       c.gain, c.exponent, c.knee,
                       with_slope ? fmt::format(", output_slope: {} /V", c.slope) : "");
}

std::string with_table(const std::string& text, const std::string& table) {
    return case_text::replaced(text, "{cgs: 2.3 nF, cgd: 14 pF, cds: 190 pF}", table);
}

// ---- a cascode: the values of cases/parts/sic-cascode.yaml
// ------------------------------------------------------

const Formula lower{4.7, 25, 1.6, 1, 0.002}, upper{-8.5, 6.8, 1.8, 5, 0.0002};
const std::map<double, Row> lower_rows{{0.5, {3042.2, 1143.3, 342.2}}, {1, {2988.3, 998.93, 288.3}},
                                       {2, {2928.1, 833.41, 228.1}},   {4, {2871.9, 671.47, 171.9}},
                                       {8, {2826.2, 531.1, 126.2}},    {12, {2805, 461.89, 105}}};
const std::map<double, Row> upper_rows{{0.5, {2853.3, 1387.3, 1384}},  {2, {2539.1, 1143.2, 1140}},
                                       {50, {1427.5, 367.13, 364.1}},  {100, {1277.4, 272.01, 269}},
                                       {200, {1163.6, 201.58, 198.6}}, {400, {1078.6, 150.08, 147.1}},
                                       {600, {1039.5, 126.75, 123.7}}};

/// A static state of the cascode, given by what its dice have between drain and source: the JFET's gate
/// stands at the MOSFET's source, and both carry one current.
struct State {
    double inner, jfet_vds, current, vgs;
    State(double inner_v, double jfet_vds_v)
        : inner(inner_v),
          jfet_vds(jfet_vds_v),
          current(upper.current(-inner_v, jfet_vds_v)),
          vgs(lower.gate_voltage(current, inner_v)) {}
    double vds() const { return inner + jfet_vds; }
};

constexpr double cascodes = 2;
std::string cascode_text(const std::string& operation) {
    std::string text = case_text::replaced(curve_cases::mosfets("{transconductance: 1 S}", operation),
                                           "positions: 3", "positions: 2");
    const size_t from = text.find("device:"), to = text.find("gate_path:");
    return text.replace(from, to - from,
                        fmt::format("device: {{file: {}/parts/sic-cascode.yaml}}\n", RINGQUELL_CASES));
}
std::string point_text(const State& s) {
    return fmt::format(
        "points:\n    - {{name: here, edge: turn_off, vds: {:.17g} V, current: {:.17g} A, complementary: "
        "blocking}}",
        s.vds(), cascodes * s.current);
}
std::string setting(const char* die, double gate_voltage) {
    return fmt::format("device.{}.capacitance.gate_voltage={:.17g} V", die, gate_voltage);
}

/// The verdict of the three MOSFETs with a channel.
CheckResult judged(const std::string& channel) {
    CheckOptions options;
    options.size_gate_resistor = false;
    return check(case_text::read(curve_cases::mosfets(channel)), options);
}

void check_channels(const DeviceValues& d, const State& s) {
    CHECK_RELATIVE(d.inner_voltage_v, s.inner, tight);
    CHECK_RELATIVE(d.gate_voltage_v, s.vgs, tight);
    check_channel(d.mosfet, lower, s.vgs, s.inner);
    check_channel(d.jfet, upper, -s.inner, s.jfet_vds);
}

}  // namespace

TEST_CASE("A MOSFET's walk has gm, gds, cgs, cgd and cds of the formulas and of the table's rows") {
    const std::vector<HandPoint> hand = walk_by_hand(mosfet);
    const auto path =
        curve_cases::path_of(with_table(curve_cases::mosfets(formula(mosfet)), table_for(hand, taken_at_v)));
    int below = 0;
    for (const HandPoint& p : hand) {
        INFO(p.name);
        const OperatingPoint& point = curve_cases::point_of(path, p.name);
        CHECK_RELATIVE(point.vds_v, p.vds, tight);
        CHECK_RELATIVE(point.device(0).gate_voltage_v, p.vgs, tight);
        check_channel(point.device(0).mosfet, mosfet, p.vgs, p.vds);
        const double reverse = p.vds - p.vgs + taken_at_v;
        check_capacitance(point.device(0).mosfet, row_at(p.vds), row_at(std::max(0.0, reverse)));
        CHECK(point.cgd_below_table == (reverse < 0));
        below += reverse < 0;
    }
    CHECK(below == 4);  // the first two voltages of both edges
}

TEST_CASE("A table without a gate voltage was taken at 0 V") {
    const double vgs = 8, vds = 60, current = parallel_mosfets * mosfet.current(vgs, vds);
    std::string table = table_for({{"here", vds, vgs}}, 0);
    table = case_text::replaced(table, "gate_voltage: 0 V, ", "");
    const auto path = curve_cases::path_of(
        with_table(curve_cases::mosfets(
                       formula(mosfet),
                       fmt::format("points: [{{name: here, edge: turn_on, vds: {} V, current: {:.17g} A, "
                                   "complementary: blocking}}]",
                                   vds, current)),
                   table));
    const DeviceValues& device = curve_cases::point_of(path, "here").device(0);
    check_channel(device.mosfet, mosfet, vgs, vds);
    check_capacitance(device.mosfet, row_at(60), row_at(52));
}

TEST_CASE("At the threshold nothing flows, and gm and gds are 0, of a MOSFET and of both dice of a cascode") {
    const HandPoint threshold{"", 800, mosfet.threshold};
    const auto path = curve_cases::path_of(
        with_table(curve_cases::mosfets(formula(mosfet)), table_for({threshold}, taken_at_v)));
    const auto cascode = curve_cases::path_of(cascode_text("path: {steps: 5}"));
    for (const std::string edge : {"turn_on", "turn_off"}) {
        const OperatingPoint& point = curve_cases::point_of(path, edge + " current 0");
        CHECK(point.current_a == 0);
        CHECK_RELATIVE(point.device(0).gate_voltage_v, mosfet.threshold, tight);
        CHECK(point.device(0).mosfet.transconductance_s == 0);
        CHECK(point.device(0).mosfet.output_conductance_s == 0);
        check_capacitance(point.device(0).mosfet, row_at(800), row_at(800 - mosfet.threshold + taken_at_v));
        const DeviceValues& dice = curve_cases::point_of(cascode, edge + " current 0").device(0);
        CHECK_RELATIVE(dice.inner_voltage_v, -upper.threshold, 1e-6);
        for (const DieValues& die : {dice.mosfet, dice.jfet}) {
            CHECK(die.transconductance_s == 0);
            CHECK(die.output_conductance_s == 0);
        }
    }
}

TEST_CASE(
    "Both dice of a cascode read cgs and cds at their drain-source voltage and cgd at their drain-gate "
    "voltage") {
    struct Wanted {
        State state;
        double lower_row, upper_row;  // where cgd is to be read
    };
    for (const Wanted& w : {Wanted{{4, 200}, 1, 100},    // both saturated
                            Wanted{{1, 2}, 0.5, 0.5},    // the onset: the JFET ohmic
                            Wanted{{0.5, 400}, 2, 600},  // the MOSFET ohmic
                            Wanted{{2, 50}, 12, 400}}) {
        INFO("MOSFET at ", w.state.inner, " V, JFET at ", w.state.jfet_vds, " V");
        const double lower_vdg = w.state.inner - w.state.vgs, upper_vdg = w.state.jfet_vds + w.state.inner;
        const auto path = curve_cases::path_of(
            cascode_text(point_text(w.state)),
            {setting("mosfet", w.lower_row - lower_vdg), setting("jfet", w.upper_row - upper_vdg)});
        const DeviceValues& device = curve_cases::point_of(path, "here").device(0);
        check_channels(device, w.state);
        check_capacitance(device.mosfet, lower_rows.at(w.state.inner), lower_rows.at(w.lower_row));
        check_capacitance(device.jfet, upper_rows.at(w.state.jfet_vds), upper_rows.at(w.upper_row));
    }
}

TEST_CASE("A JFET's table without a gate voltage was taken at its threshold, and a MOSFET's at 0 V") {
    // The JFET's v(D,G) is 208.5 V, 200 V above what its threshold takes off; the MOSFET's own lies below the
    // table.
    const State state(4, 204.5);
    const auto path = curve_cases::path_of(cascode_text(point_text(state)));
    const DeviceValues& device = curve_cases::point_of(path, "here").device(0);
    CHECK_RELATIVE(device.jfet.cgd_f, upper_rows.at(200).crss * 1e-12, tight);
    CHECK(state.vgs > state.inner);
    CHECK_RELATIVE(device.mosfet.cgd_f, 440e-12, tight);
    CHECK(curve_cases::point_of(path, "here").cgd_below_table);
}

TEST_CASE(
    "A cascode's walk ends its current transfer and plateau in the same static state, its voltage transfer "
    "at "
    "drive.high") {
    const State state(4, 400);
    const double load = cascodes * state.current;
    std::string text = cascode_text("path: {steps: 5}");
    text =
        case_text::replaced(text, "bus_voltage: 800 V", fmt::format("bus_voltage: {:.17g} V", state.vds()));
    text = case_text::replaced(text, "load_current: 200 A", fmt::format("load_current: {:.17g} A", load));
    const auto path = curve_cases::path_of(
        text, {setting("mosfet", 8 - (state.inner - state.vgs)), setting("jfet", 600 - state.vds())});
    for (const std::string edge : {"turn_on", "turn_off"}) {
        for (const char* stage : {" current 5", " plateau 5"}) {
            INFO(edge, stage);
            const DeviceValues& device = curve_cases::point_of(path, edge + stage).device(0);
            check_channels(device, state);
            check_capacitance(device.mosfet, lower_rows.at(4), lower_rows.at(8));
            check_capacitance(device.jfet, upper_rows.at(400), upper_rows.at(600));
        }
        // Each share of the load current: both dice carry it, and the JFET's gate is at the MOSFET's source.
        for (int k = 1; k < 5; ++k) {
            const double each = state.current * k / 5, bus = state.vds();
            const double inner = bisect([&](double v) { return each - upper.current(-v, bus - v); }, 0, 8.5);
            check_channels(curve_cases::point_of(path, fmt::format("{} current {}", edge, k)).device(0),
                           State(inner, bus - inner));
        }
        // The fast transfer: the MOSFET ohmic with 18 V at its gate, the JFET's gate where it carries the
        // load.
        const DeviceValues& device = curve_cases::point_of(path, edge + " voltage 5").device(0);
        const double inner = bisect([&](double v) { return lower.current(18, v) - state.current; }, 0, 10);
        const double jfet_vds = state.vds() - inner;
        check_channel(device.mosfet, lower, 18, inner);
        check_channel(device.jfet, upper, upper.gate_voltage(state.current, jfet_vds), jfet_vds);
    }
}

TEST_CASE(
    "Where no output slope is given every point stands three times, and the two kinder and harsher ones say "
    "so") {
    const auto path =
        curve_cases::path_of(curve_cases::mosfets(formula(mosfet, false),
                                                  "path: {steps: 5}\n  points: [{name: here, edge: turn_on, "
                                                  "vds: 400 V, current: 90 A, complementary: blocking}]"));
    const auto given = curve_cases::path_of(curve_cases::mosfets(formula(mosfet)));
    CHECK(path.points.size() == 3 * (given.points.size() + 1));
    for (const std::string name : {"here", "turn_on current 3", "turn_off voltage 4"})
        for (const auto& variant :
             {std::pair{0.0005, ""}, std::pair{0.00005, ", output_slope 0.00005 /V assumed"},
              std::pair{0.005, ", output_slope 0.005 /V assumed"}}) {
            const std::string suffix = variant.second;
            INFO(name, suffix);
            Formula channel = mosfet;
            channel.slope = variant.first;
            const OperatingPoint& point = curve_cases::point_of(path, name + suffix);
            const double vgs = channel.gate_voltage(point.current_a / parallel_mosfets, point.vds_v);
            check_channel(point.device(0).mosfet, channel, vgs, point.vds_v);
        }
    CHECK(curve_cases::warnings_of(path, "output_slope") == 1);
    CHECK(curve_cases::warnings_of(given, "output_slope") == 0);
}

TEST_CASE(
    "Far in saturation the conductance that tanh leaves is right where 1 - tanh² would have three digits") {
    Formula none = mosfet;
    none.slope = 0;
    const double vds = 15 * none.knee;  // sech² is 4e-13
    const auto path = curve_cases::path_of(curve_cases::mosfets(
        formula(none),
        fmt::format(
            "points: [{{name: here, edge: turn_on, vds: {} V, current: 150 A, complementary: blocking}}]",
            vds)));
    const double vgs = none.gate_voltage(150 / parallel_mosfets, vds);
    check_channel(curve_cases::point_of(path, "here").device(0).mosfet, none, vgs, vds);
}

TEST_CASE("The verdict without an output slope is the worst of the three assumed, and says that they are") {
    const CheckResult assumed = judged(formula(mosfet, false));
    double worst = 1, best = -1;
    for (const double slope : {0.0005, 0.00005, 0.005}) {
        Formula given = mosfet;
        given.slope = slope;
        const CheckResult result = judged(formula(given));
        REQUIRE(result.worst_differential.has_value());
        worst = std::min(worst, result.worst_differential->mode.damping_ratio());
        best = std::max(best, result.worst_differential->mode.damping_ratio());
    }
    REQUIRE(assumed.worst_differential.has_value());
    CHECK(best > worst);
    CHECK_RELATIVE(assumed.worst_differential->mode.damping_ratio(), worst, 1e-6);
    CHECK(case_text::contains(check_text(assumed),
                              "output_slope: not given, and no device has 0: 0.0005 /V is assumed"));
}

TEST_CASE("An output slope of 0 leaves no conductance at 800 V, and the verdict of 1e-12 per volt") {
    const std::string zero = case_text::replaced(formula(mosfet), "0.0004 /V", "0 /V");
    const CheckResult none = judged(zero);
    const CheckResult little = judged(case_text::replaced(zero, "slope: 0 /V", "slope: 1e-12 /V"));
    for (const PointResult& r : none.points) {
        const double gds = r.point.device(0).mosfet.output_conductance_s;
        INFO(r.point.name);
        CHECK((gds == 0 || std::isnormal(gds)));
        if (r.point.vds_v == 800) CHECK(gds == 0);
    }
    REQUIRE(none.worst_differential.has_value());
    REQUIRE(none.worst_common.has_value());
    CHECK(none.verdict == little.verdict);
    CHECK_RELATIVE(none.worst_differential->mode.damping_ratio(),
                   little.worst_differential->mode.damping_ratio(), 1e-6);
    CHECK_RELATIVE(none.worst_common->mode.damping_ratio(), little.worst_common->mode.damping_ratio(), 1e-6);
}
