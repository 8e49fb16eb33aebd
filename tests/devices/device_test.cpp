#include "ringquell/device.h"

#include <doctest/doctest.h>

#include <functional>

#include "devices/channel_state.h"
#include "devices/prepared_device.h"
#include "support/curve_cases.h"
#include "support/relative.h"

using namespace ringquell;
using namespace ringquell::internal;
using curve_cases::formula_channel;

namespace {

const TransferChannel two_curves{{{25, {{4, 0}, {6, 14}, {9, 70}, {14, 200}, {20, 390}}, {}},
                                  {150, {{3, 0}, {5, 9}, {8, 55}, {13, 160}, {18, 290}}, {}}},
                                 9,
                                 0.0004,
                                 0,
                                 1};

/// Central differences of the current against the exact derivatives.
void check_derivatives(const Channel& channel, double temperature, double vgs, double vds) {
    CAPTURE(vgs);
    CAPTURE(vds);
    constexpr double h = 1e-4;
    const auto current = [&](double g, double d) {
        return channel_state(channel, g, d, temperature).current_a;
    };
    const ChannelState state = channel_state(channel, vgs, vds, temperature);
    CHECK_RELATIVE(state.transconductance_s, (current(vgs + h, vds) - current(vgs - h, vds)) / (2 * h), 1e-7);
    CHECK_RELATIVE(state.output_conductance_s, (current(vgs, vds + h) - current(vgs, vds - h)) / (2 * h),
                   1e-6);
}

Channel sampled_channel(double spacing_v) {
    return case_text::read(curve_cases::mosfets(curve_cases::sampled(spacing_v)))
        .positions[0]
        .device.mosfet.channel;
}

/// Worst relative error of gm and gds between 8 V and 16 V, off the points.
ChannelState worst_error(double spacing_v) {
    const PreparedChannel channel(sampled_channel(spacing_v), 25, {}, "");
    ChannelState worst;
    for (double vgs = 8.0123; vgs < 16; vgs += 0.0317) {
        const ChannelState exact = channel_state(formula_channel, vgs, 40), found = channel.at(vgs, 40);
        const auto larger = [](double& most, double a, double b) {
            most = std::max(most, relative_difference(a, b));
        };
        larger(worst.current_a, found.current_a, exact.current_a);
        larger(worst.transconductance_s, found.transconductance_s, exact.transconductance_s);
        larger(worst.output_conductance_s, found.output_conductance_s, exact.output_conductance_s);
    }
    return worst;
}

const CapacitanceTable table{{{0, 3e-9, 2e-9, 0.9e-9},
                              {10, 2.8e-9, 0.9e-9, 90e-12},
                              {100, 2.6e-9, 0.4e-9, 20e-12},
                              {800, 2.5e-9, 0.2e-9, 9e-12}},
                             {},
                             1,
                             1,
                             1};

Die die_with(const CapacitanceTable& capacitance) {
    Die die;
    die.channel = FixedChannel{};
    die.capacitance = capacitance;
    return die;
}

}  // namespace

TEST_CASE("gm and gds are the derivatives of the current, of the formula and of curves") {
    for (const double vgs : {4.6, 7.3, 12.4, 17.1})
        for (const double vds : {0.3, 5.0, 30.0, 800.0}) {
            check_derivatives(formula_channel, 25, vgs, vds);
            check_derivatives(two_curves, 25, vgs, vds);
            check_derivatives(two_curves, 93, vgs, vds);
        }
    CHECK(channel_state(Channel(formula_channel), 4.1, 10, 25).transconductance_s == 0);
    CHECK(channel_state(two_curves, -4, 10, 25).current_a == 0);
}

TEST_CASE(
    "a curve sampled from the formula has its gm to the second order and its current and gds to the third") {
    const ChannelState coarse = worst_error(1), fine = worst_error(0.5), finest = worst_error(0.25);
    CHECK(finest.transconductance_s < 1e-3);
    for (const auto& [large, small] : {std::pair{coarse, fine}, std::pair{fine, finest}}) {
        CHECK(large.transconductance_s / small.transconductance_s > 3.6);  // 2² with what the next order adds
        CHECK(large.current_a / small.current_a > 7);                      // 2³
        CHECK(large.output_conductance_s / small.output_conductance_s > 7);
    }
}

TEST_CASE("between two temperatures the current is the mean of the curves at equal gate voltage") {
    const auto at = [](double temperature) { return channel_state(two_curves, 8, 40, temperature); };
    CHECK_RELATIVE(at(75).current_a, 0.6 * at(25).current_a + 0.4 * at(150).current_a, 1e-14);
    CHECK_RELATIVE(at(75).transconductance_s,
                   0.6 * at(25).transconductance_s + 0.4 * at(150).transconductance_s, 1e-14);
    CHECK_RELATIVE(at(150).current_a, 55 * 1.016 * std::tanh(40.0 / 9), 1e-14);
    CHECK_THROWS_WITH_AS(
        at(151),
        "channel.transfer: found curves for 25 degC to 150 degC, expected the junction temperature, 151 "
        "degC, among them: nothing is extrapolated",
        InputError);
    CHECK_THROWS_AS(at(24.9), InputError);
    TransferChannel one{{two_curves.curves[1]}, 9, 0, 0, 1};
    CHECK_THROWS_AS(channel_state(one, 8, 40, 25), InputError);
    one.curves[0].junction_temperature_degc.reset();
    CHECK(channel_state(one, 8, 40, -40).current_a == channel_state(one, 8, 40, 175).current_a);
}

TEST_CASE("nothing is said of a gate voltage beyond the curve, nor of fixed values") {
    CHECK_THROWS_WITH_AS(
        channel_state(two_curves, 20.5, 40, 25),
        "channel.transfer: found a gate voltage of 20.5 V, expected one within the curve, -inf V to 20 V",
        InputError);
    CHECK_THROWS_AS(channel_state(two_curves, 18.5, 40, 26), InputError);  // the hotter curve ends at 18 V
    CHECK_THROWS_WITH_AS(channel_state(FixedChannel{}, 5, 40, 25),
                         "channel: found fixed values, which have no current; expected a formula or curves",
                         InputError);
}

TEST_CASE("the spread moves a curve by its threshold and scales it by its gain") {
    TransferChannel moved = two_curves;
    moved.threshold_shift_v = 0.7;
    moved.gain_factor = 1.2;
    for (const double vgs : {5.0, 9.0, 15.0}) {
        const ChannelState base = channel_state(two_curves, vgs, 30, 60);
        const ChannelState other = channel_state(moved, vgs + 0.7, 30, 60);
        CHECK_RELATIVE(other.current_a, 1.2 * base.current_a, 1e-13);
        CHECK_RELATIVE(other.transconductance_s, 1.2 * base.transconductance_s, 1e-13);
        CHECK_RELATIVE(other.output_conductance_s, 1.2 * base.output_conductance_s, 1e-13);
    }
    CHECK(PreparedChannel(moved, 25, {}, "").highest_v() == 20.7);
}

TEST_CASE("a channel is off, ohmic or saturated") {
    const PreparedChannel channel(formula_channel, 25, {}, "");
    CHECK_RELATIVE(std::tanh(channel.saturation_voltage_v() / 9), saturated_share, 1e-15);
    CHECK(channel.region(4, 100) == DieRegion::off);
    CHECK(channel.region(10, 0) == DieRegion::ohmic);
    CHECK(channel.region(10, 17.5) == DieRegion::ohmic);
    CHECK(channel.region(10, 17.6) == DieRegion::saturated);
    CHECK(std::string(region_name(DieRegion::avalanche)) == "avalanche");
}

TEST_CASE("a capacitance table gives cgd = crss, cgs = ciss - crss, cds = coss - crss at its rows") {
    const PreparedCapacitance capacitance(die_with(table), "");
    for (const auto& row : table.rows) {
        DieValues v;
        CHECK(capacitance.at(row.vds_v, v).own == Domain::inside);
        CHECK_RELATIVE(v.cgd_f, row.crss_f, 1e-14);
        CHECK_RELATIVE(v.cgs_f, row.ciss_f - row.crss_f, 1e-14);
        CHECK_RELATIVE(v.cds_f, row.coss_f - row.crss_f, 1e-13);
    }
    DieValues end, beyond;
    capacitance.at(800, end);
    CHECK(capacitance.at(900, beyond).own == Domain::above);
    CHECK(end == beyond);
}

TEST_CASE("cgd is read at the drain-gate voltage, cgs and cds at the drain-source voltage") {
    CapacitanceTable at_gate = table;
    at_gate.gate_voltage_v = -4;
    const auto& rows = table.rows;
    REQUIRE(rows.size() > 3);
    for (const double gate_voltage_v : {0.0, -4.0}) {
        at_gate.gate_voltage_v = gate_voltage_v;
        const PreparedCapacitance capacitance(die_with(at_gate), "");
        DieValues v;
        // The gate so far below the source that drain and gate are as far apart as in the third row.
        const double vdg = rows[2].vds_v - gate_voltage_v;
        const auto domains = capacitance.at(rows[1].vds_v, vdg, v);
        CHECK_RELATIVE(v.cgd_f, rows[2].crss_f, 1e-14);
        CHECK_RELATIVE(v.cgs_f, rows[1].ciss_f - rows[1].crss_f, 1e-14);
        CHECK_RELATIVE(v.cds_f, rows[1].coss_f - rows[1].crss_f, 1e-13);
        CHECK(domains.reverse == Domain::inside);
        // On: the gate above the drain, where the table ends.
        CHECK(capacitance.at(rows[1].vds_v, rows[1].vds_v - 18, v).reverse == Domain::below);
        CHECK_RELATIVE(v.cgd_f, rows[0].crss_f, 1e-14);
    }
}

TEST_CASE("the output conductance of a saturated channel has no cancellation and no denormal") {
    FormulaChannel channel = formula_channel;
    for (const double slope : {0.0, 0.00005, 0.0005, 0.005})
        for (const double vds : {0.5, 5.0, 40.0, 150.0, 800.0, 4000.0}) {
            channel.output_slope_per_v = slope;
            const ChannelState s = channel_state(channel, 8, vds);
            const double x = vds / channel.knee_voltage_v;
            const double saturated = channel.gain_a * std::pow(8 - channel.threshold_v, channel.exponent);
            const double expected =
                saturated * (slope * std::tanh(x) +
                             (1 + slope * vds) / std::pow(std::cosh(x), 2) / channel.knee_voltage_v);
            if (expected < 1e-16 * s.transconductance_s)
                CHECK(s.output_conductance_s == 0);
            else if (expected > 1e-15 * s.transconductance_s)
                CHECK_RELATIVE(s.output_conductance_s, expected, 1e-12);
        }
}

TEST_CASE("the spread scales the columns of a table, and may not make a capacitance negative") {
    CapacitanceTable scaled = table;
    scaled.ciss_factor = 1.1;
    scaled.coss_factor = 0.9;
    scaled.crss_factor = 1.3;
    DieValues base, other;
    PreparedCapacitance(die_with(table), "").at(37, base);
    PreparedCapacitance(die_with(scaled), "").at(37, other);
    CHECK_RELATIVE(other.cgd_f, 1.3 * base.cgd_f, 1e-14);
    CHECK_RELATIVE(other.cgs_f + other.cgd_f, 1.1 * (base.cgs_f + base.cgd_f), 1e-14);
    CHECK_RELATIVE(other.cds_f + other.cgd_f, 0.9 * (base.cds_f + base.cgd_f), 1e-14);
    scaled.crss_factor = 2.3;
    CHECK_THROWS_AS(PreparedCapacitance(die_with(scaled), "device.capacitance.table"), InputError);
}
