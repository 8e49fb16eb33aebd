// Every eigenvalue in the band is a root of a determinant written from the contract's table by hand, and
// there are no others: five boards, each as a case and a second time as branches between nodes.
//
// The numbers stand here twice on purpose. hand_nodal.h holds nothing of the library.
#include <doctest/doctest.h>

#include <array>
#include <functional>
#include <numbers>

#include "ringquell/check.h"
#include "support/case_text.h"
#include "support/hand_nodal.h"
#include "support/hand_points.h"
#include "support/relative.h"
#include "support/spectrum.h"

using namespace ringquell;
using hand_nodal::Complex;
using hand_nodal::Impedance;
using hand_nodal::Nodal;
using hand_nodal::parallel;
using hand_points::At;
using hand_points::points;

namespace {

constexpr double band_low_hz = 1e6, band_high_hz = 1e9;

/// The parts that all boards share: the power loop, the points, what is asked.
const std::string shared_text = R"(power_loop:
  inductance: 11 nH
  resistance: 6 mohm
  complementary: {capacitance: 260 pF, resistance: 70 mohm, on_resistance: 14 mohm}
  dc_link: {capacitance: 2.5 uF, esr: 4 mohm, esl: 5 nH}
  load: {inductance: 160 uH, capacitance: 70 pF, resistance: 3 ohm}
)" + hand_points::text(600);

void power_loop(Nodal& n, const At& at, const std::string& drain, const std::string& source) {
    const Impedance loop = n.l(11) + n.r(6e-3), link = n.c(2500) + n.r(4e-3) + n.l(5);
    n.branch(drain, source, loop + (at.conducting ? n.r(14e-3) : n.c(0.26) + n.r(70e-3)) + link);
    n.branch(drain, source, n.l(160e3));
    n.branch(drain, source, n.c(0.07) + n.r(3));
}

const std::string driver_text =
    "pull_up_resistance: 0.9 ohm, pull_down_resistance: 0.6 ohm, inductance: 4.5 nH, return_inductance: 3.5 "
    "nH,\n"
    "         bypass: {capacitance: 0.9 uF, esr: 9 mohm, esl: 0.9 nH}";

/// From the gate side to the driver's ground. Turning off there is no `turn_off_bypass`: a wire.
Impedance driver_output(const Nodal& n, const At& at) {
    const Impedance output = n.l(4.5) + n.r(at.turn_on ? 0.9 : 0.6);
    return at.turn_on ? output + n.c(900) + n.r(9e-3) + n.l(0.9) : output;
}

/// A die between gate, drain and source; nF, S.
void die(Nodal& n, const std::string& g, const std::string& d, const std::string& s, double cgs,
         const Impedance& cgd, const Impedance& cds, double gm, double gds) {
    n.branch(g, s, n.c(cgs));
    n.branch(g, d, cgd);
    n.branch(d, s, cds);
    n.source(d, s, g, s, gm);
    n.branch(d, s, n.r(1 / gds));
}

using Board = std::function<void(Nodal&, const At&)>;

/// At every point: each eigenvalue of the library in the band is a root of the determinant, found from 0.1 %
/// away, and the argument principle counts as many roots there as the library lists.
void check_board(const std::string& text, const Board& board) {
    const Case input = case_text::read(text);
    CheckOptions options;
    options.size_gate_resistor = options.follow_modes = false;
    const CheckResult result = check(input, options);
    REQUIRE(result.points.size() == points.size());
    for (size_t i = 0; i < points.size(); ++i) {
        const At& at = points[i];
        INFO("at ", std::string(at.name));
        REQUIRE(result.points[i].point.name == at.name);
        const hand_nodal::Polynomial p = [&](Complex s) {
            Nodal nodal(s * 1e-9);
            board(nodal, at);
            return nodal.determinant();
        };
        int listed = 0, oscillating = 0;
        for (const Mode& mode : result.points[i].modes.modes) {
            const double hz = mode.natural_frequency_hz();
            if (hz < band_low_hz || hz > band_high_hz) continue;
            listed += mode.multiplicity * (mode.oscillates() ? 2 : 1);
            oscillating += mode.oscillates();
            const Complex away = mode.oscillates() ? Complex(6e-4, 8e-4) : Complex(1e-3);
            const Complex root = hand_nodal::root_from(p, mode.eigenvalue * (1.0 + away), mode.multiplicity);
            CHECK_RELATIVE(root, mode.eigenvalue, 1e-6);
        }
        CHECK(oscillating >= 3);
        const double counted = hand_nodal::roots_within(p, 2 * std::numbers::pi * band_high_hz) -
                               hand_nodal::roots_within(p, 2 * std::numbers::pi * band_low_hz);
        INFO("counted ", counted);
        CHECK(std::abs(counted - listed) < 1e-6);
    }
}

std::string with(const std::string& name, size_t k) {
    return name + std::to_string(k);
}

// ---- three cascodes, both dice saturated

const std::string cascodes_text = R"(ringquell: 1
positions: 3
device:
  kind: cascode
  gate_resistance: 1.4 ohm
  package: {gate: 5.5 nH, drain: 2.2 nH, source: 3.4 nH, kelvin: 4.1 nH}
  bonds: {mid: 0.45 nH, jfet_gate: 0.8 nH, jfet_gate_to: mosfet_source}
  mosfet:
    channel: {transconductance: 48 S, output_conductance: 90 mS}
    capacitance: {cgs: 1.9 nF, cgd: 110 pF, cds: 620 pF}
  jfet:
    gate_resistance: 1.3 ohm
    channel: {transconductance: 16 S, output_conductance: 25 mS}
    capacitance: {cgs: 0.8 nF, cgd: 130 pF, cds: 6 pF, output_resistance: 0.4 ohm}
gate_path:
  resistor: {turn_on: 8.2 ohm, turn_off: 4.7 ohm}
  bead: {dc_resistance: 25 mohm, resistance: 30 ohm, inductance: 40 nH, capacitance: 0.8 pF}
  inductance: 8 nH
kelvin_path:
  resistor: 0.3 ohm
  bead: {dc_resistance: 12 mohm, capacitance: 0.5 pF,
         sections: [{resistance: 9 ohm, inductance: 20 nH}, {resistance: 20 ohm, inductance: 90 nH}]}
  inductance: 6 nH
drain_path: {resistance: 0.5 mohm, inductance: 4 nH}
source_path: {resistance: 0.6 mohm, inductance: 3.2 nH}
snubber: {capacitance: 220 pF, resistance: 5 ohm, inductance: 2 nH}
driver: {)" + driver_text + "}\n" +
                                  shared_text;

void cascodes(Nodal& n, const At& at, bool gate_to_source_pin) {
    for (size_t k = 1; k <= 3; ++k) {
        const auto o = [&](const char* name) { return with(name, k); };
        const Impedance gate_bead = n.r(25e-3) + parallel(parallel(n.r(30), n.l(40)), n.c(0.8e-3));
        const Impedance kelvin_bead =
            n.r(12e-3) + parallel(parallel(n.r(9), n.l(20)) + parallel(n.r(20), n.l(90)), n.c(0.5e-3));
        n.branch("gate rail", o("GP"), n.r(at.turn_on ? 8.2 : 4.7) + gate_bead + n.l(8));
        n.branch(o("GP"), o("G"), n.l(5.5) + n.r(1.4));
        n.branch(o("DP"), o("D"), n.l(2.2));
        n.branch(o("S"), o("SP"), n.l(3.4));
        n.branch(o("S"), o("KP"), n.l(4.1));
        n.branch("drain rail", o("DP"), n.r(0.5e-3) + n.l(4));
        n.branch(o("SP"), "source rail", n.l(3.2) + n.r(0.6e-3));
        n.branch(o("KP"), "0", n.l(6) + kelvin_bead + n.r(0.3));
        n.branch(o("DP"), o("SP"), n.c(0.22) + n.r(5) + n.l(2));
        die(n, o("G"), o("M"), o("S"), 1.9, n.c(0.11), n.c(0.62), 48, 90e-3);
        n.branch(o("M"), o("JS"), n.l(0.45));
        die(n, o("J"), o("D"), o("JS"), 0.8, n.c(0.13) + n.r(0.4), n.c(6e-3), 16, 25e-3);
        n.branch(o("J"), gate_to_source_pin ? o("SP") : o("S"), n.r(1.3) + n.l(0.8));
    }
    n.branch("gate rail", "0", driver_output(n, at) + n.l(3.5));
    power_loop(n, at, "drain rail", "source rail");
}

// ---- eight MOSFETs in a row -------------------------------------------------------------------------------

const std::string row_text = R"(ringquell: 1
positions: 8
device:
  kind: mosfet
  gate_resistance: 1.2 ohm
  package: {gate: 5 nH, drain: 2.4 nH, source: 3.1 nH, kelvin: 4.2 nH}
  channel: {transconductance: 36 S, output_conductance: 55 mS}
  capacitance: {cgs: 2.2 nF, cgd: 16 pF, cds: 185 pF, output_resistance: 0.2 ohm}
gate_path: {resistor: {turn_on: 6.8 ohm, turn_off: 3.9 ohm}, inductance: 7 nH}
kelvin_path: {resistor: 0.1 ohm, inductance: 5 nH}
drain_path: {resistance: 0.4 mohm, inductance: 4.1 nH}
source_path: {resistance: 0.5 mohm, inductance: 2.9 nH}
snubber: {capacitance: 330 pF, resistance: 6.8 ohm, inductance: 2.5 nH}
buses:
  gate: {inductance: 2.2 nH, resistance: 2 mohm}
  kelvin: {inductance: 1.8 nH, resistance: 1 mohm, feed_at: 2}
  drain: {inductance: [1.1 nH, 1.3 nH, 1.2 nH, 1.5 nH, 1.1 nH, 1.4 nH, 1.6 nH], resistance: 0.1 mohm, feed_at: 4}
  source: {inductance: 1.3 nH, resistance: 0.15 mohm, feed_at: 8}
overrides:
  - {position: 2, gate_path: {inductance: 8.5 nH}}
  - {position: 3, gate_path: {inductance: 11 nH}}
  - {position: 6, gate_path: {inductance: 6.1 nH}}
  - {position: 8, gate_path: {inductance: 14 nH}}
driver: {)" + driver_text + "}\n" +
                             shared_text;

void row(Nodal& n, const At& at) {
    constexpr std::array gate_nh{7.0, 8.5, 11.0, 7.0, 7.0, 6.1, 7.0, 14.0};
    constexpr std::array drain_nh{1.1, 1.3, 1.2, 1.5, 1.1, 1.4, 1.6};
    const auto kelvin_tap = [](size_t k) { return k == 2 ? "0" : with("TK", k); };
    for (size_t k = 1; k <= 8; ++k) {
        const auto o = [&](const char* name) { return with(name, k); };
        n.branch(o("TG"), o("GP"), n.r(at.turn_on ? 6.8 : 3.9) + n.l(gate_nh[k - 1]));
        n.branch(o("GP"), o("G"), n.l(5) + n.r(1.2));
        n.branch(o("DP"), o("D"), n.l(2.4));
        n.branch(o("S"), o("SP"), n.l(3.1));
        n.branch(o("S"), o("KP"), n.l(4.2));
        n.branch(o("TD"), o("DP"), n.r(0.4e-3) + n.l(4.1));
        n.branch(o("SP"), o("TS"), n.l(2.9) + n.r(0.5e-3));
        n.branch(o("KP"), kelvin_tap(k), n.l(5) + n.r(0.1));
        n.branch(o("DP"), o("SP"), n.c(0.33) + n.r(6.8) + n.l(2.5));
        die(n, o("G"), o("D"), o("S"), 2.2, n.c(0.016), n.c(0.185) + n.r(0.2), 36, 55e-3);
        if (k == 8) break;
        n.branch(o("TG"), with("TG", k + 1), n.l(2.2) + n.r(2e-3));
        n.branch(kelvin_tap(k), kelvin_tap(k + 1), n.l(1.8) + n.r(1e-3));
        n.branch(o("TD"), with("TD", k + 1), n.l(drain_nh[k - 1]) + n.r(0.1e-3));
        n.branch(o("TS"), with("TS", k + 1), n.l(1.3) + n.r(0.15e-3));
    }
    n.branch("TG1", "0", driver_output(n, at) + n.l(3.5));
    power_loop(n, at, "TD4", "TS8");
}

// ---- MOSFETs in stars: isolated drivers, an open Kelvin pin, buffers

/// Up to the driver, which comes last; `more` are whole lines.
std::string star_text(int positions, const std::string& more, const std::string& driver) {
    return "ringquell: 1\npositions: " + std::to_string(positions) + R"(
device:
  kind: mosfet
  gate_resistance: 1.1 ohm
  package: {gate: 5.2 nH, drain: 2.1 nH, source: 3.3 nH, kelvin: 4.4 nH}
  channel: {transconductance: 33 S, output_conductance: 45 mS}
  capacitance: {cgs: 2 nF, cgd: 14 pF, cds: 170 pF}
gate_path: {resistor: {turn_on: 5.6 ohm, turn_off: 3.3 ohm}, inductance: 7.5 nH}
drain_path: {resistance: 0.7 mohm, inductance: 4.3 nH}
source_path: {resistance: 0.8 mohm, inductance: 3.7 nH}
)" + more + "driver: {" +
           driver_text + ", " + driver + "}\n" + shared_text;
}

/// All of a position but what ends at the gate tap `tg`, at the Kelvin pin and at the source rail `rail`.
void star_position(Nodal& n, const At& at, size_t k, const std::string& tg, const std::string& rail,
                   double source_nh) {
    const auto o = [&](const char* name) { return with(name, k); };
    n.branch(tg, o("GP"), n.r(at.turn_on ? 5.6 : 3.3) + n.l(7.5));
    n.branch(o("GP"), o("G"), n.l(5.2) + n.r(1.1));
    n.branch(o("DP"), o("D"), n.l(2.1));
    n.branch(o("S"), o("SP"), n.l(3.3));
    n.branch(o("S"), o("KP"), n.l(4.4));
    n.branch("drain rail", o("DP"), n.r(0.7e-3) + n.l(4.3));
    n.branch(o("SP"), rail, n.l(source_nh) + n.r(0.8e-3));
    die(n, o("G"), o("D"), o("S"), 2, n.c(0.014), n.c(0.17), 33, 45e-3);
}

}  // namespace

TEST_CASE(
    "Three paralleled cascodes with both dice saturated, beads and snubbers: the eigenvalues are the roots") {
    check_board(cascodes_text, [](Nodal& n, const At& at) { cascodes(n, at, false); });
}

TEST_CASE("The same cascodes with the JFETs' gates bonded to the source pins") {
    check_board(case_text::replaced(cascodes_text, "jfet_gate_to: mosfet_source", "jfet_gate_to: source_pin"),
                [](Nodal& n, const At& at) { cascodes(n, at, true); });
}

TEST_CASE("A row of eight MOSFETs along four buses, gate inductances uneven: the eigenvalues are the roots") {
    check_board(row_text, row);
}

TEST_CASE("Four MOSFETs with isolated drivers, alike and uneven: the barrier hangs at each driver's ground") {
    for (const bool alike : {true, false}) {
        const std::string uneven = "overrides:\n  - {position: 3, source_path: {inductance: 2.4 nH}}\n";
        const std::string text =
            star_text(4, "kelvin_path: {resistor: 0.2 ohm, inductance: 5.5 nH}\n" + (alike ? "" : uneven),
                      "per_position: isolated, barrier_capacitance: 30 pF, barrier_resistance: 12 ohm");
        check_board(text, [&](Nodal& n, const At& at) {
            for (size_t k = 1; k <= 4; ++k) {
                const auto o = [&](const char* name) { return with(name, k); };
                star_position(n, at, k, o("TG"), "0", k == 3 && !alike ? 2.4 : 3.7);
                n.branch(o("KP"), o("TK"), n.l(5.5) + n.r(0.2));
                n.branch(o("TG"), o("ground"), driver_output(n, at));
                n.branch(o("ground"), o("TK"), n.l(3.5));
                n.branch(o("ground"), "0", n.c(0.03) + n.r(12));
            }
            power_loop(n, at, "drain rail", "0");
        });
    }
}

TEST_CASE("Two MOSFETs whose driver returns to the source rail: the Kelvin pins go nowhere") {
    const Board board = [](Nodal& n, const At& at) {
        for (size_t k = 1; k <= 2; ++k) star_position(n, at, k, "gate rail", "0", 3.7);
        n.branch("gate rail", "0", driver_output(n, at) + n.l(3.5));
        power_loop(n, at, "drain rail", "0");
    };
    check_board(star_text(2, "", "return_to: source_rail"), board);
    // A shunt from gate to Kelvin pin closes a loop through the Kelvin lead, at each position alone.
    check_board(star_text(2, "gate_shunt: {capacitance: 0.7 nF, resistance: 1.5 ohm, inductance: 1 nH}\n",
                          "return_to: source_rail"),
                [&](Nodal& n, const At& at) {
                    board(n, at);
                    for (size_t k = 1; k <= 2; ++k)
                        n.branch(with("GP", k), with("KP", k), n.c(0.7) + n.r(1.5) + n.l(1));
                });
}

TEST_CASE("Two MOSFETs with buffers on a Kelvin row: each driver returns at its own Kelvin tap") {
    const std::string more =
        "kelvin_path: {resistor: 0.2 ohm, inductance: 5.5 nH}\nbuses: {kelvin: {inductance: 6 nH, "
        "resistance: 5 mohm}}\n";
    check_board(star_text(2, more, "per_position: buffer"), [](Nodal& n, const At& at) {
        for (size_t k = 1; k <= 2; ++k) {
            const std::string tap = k == 1 ? "0" : "TK2";
            star_position(n, at, k, with("TG", k), "source rail", 3.7);
            n.branch(with("KP", k), tap, n.l(5.5) + n.r(0.2));
            n.branch(with("TG", k), tap, driver_output(n, at) + n.l(3.5));
        }
        n.branch("0", "TK2", n.l(6) + n.r(5e-3));
        power_loop(n, at, "drain rail", "source rail");
    });
}
