// Two positions of a board, written by hand from the model's table of branches, and the same board as a case.
//
// The pencil is that of docs/model.md; the numbers stand here a second time on purpose. Position 2 has a
// longer gate path and a shorter source path than position 1, so that nothing hides behind symmetry.
#pragma once

#include <functional>
#include <string>

#include "ringquell/read_case.h"
#include "support/hand_mna.h"
#include "support/hand_points.h"
#include "support/spectrum.h"

namespace hand_board {

using hand_points::At;
using hand_points::points;

/// `top`: more keys of the case; `driver`: more keys of the driver; `overrides`: entries after that of
/// position 2.
inline std::string text(const std::string& top = "", const std::string& driver = "",
                        const std::string& overrides = "") {
    return R"(ringquell: 1
positions: 2
device:
  kind: mosfet
  gate_resistance: 1.3 ohm
  package: {gate: 5 nH, drain: 2 nH, source: 3 nH, kelvin: 4 nH}
  channel: {transconductance: 35 S, output_conductance: 50 mS}
  capacitance: {cgs: 2.1 nF, cgd: 15 pF, cds: 180 pF}
gate_path: {resistor: {turn_on: 4.3 ohm, turn_off: 2.4 ohm}, inductance: 7 nH}
kelvin_path: {resistor: 0.2 ohm, inductance: 5 nH}
drain_path: {resistance: 0.6 mohm, inductance: 4 nH}
source_path: {resistance: 0.5 mohm, inductance: 3 nH}
driver: {pull_up_resistance: 0.8 ohm, pull_down_resistance: 0.5 ohm, inductance: 4 nH, return_inductance: 3 nH,
         bypass: {capacitance: 1 uF, esr: 8 mohm, esl: 0.8 nH})" +
           driver + R"(}
power_loop:
  inductance: 9 nH
  resistance: 4 mohm
  complementary: {capacitance: 230 pF, resistance: 0.1 ohm, on_resistance: 12 mohm}
  dc_link: {capacitance: 2 uF, esr: 3 mohm, esl: 4 nH}
  load: {inductance: 150 uH, capacitance: 60 pF, resistance: 2 ohm}
)" + hand_points::text(800) +
           top + R"(overrides:
  - {position: 2, gate_path: {inductance: 11 nH}, source_path: {inductance: 2.2 nH}}
)" + overrides;
}

/// What a test changes of the hand-written board. Strings are nodes; k is "1" or "2".
struct Hand {
    using Between =
        std::function<void(HandMna&, const std::string& a, const std::string& b, const std::string& k)>;
    Between gate_resistor;     // instead of the plain resistor, between T_gate and the gate path's inductance
    Between device;            // instead of the MOSFET's three capacitances and channel
    bool choke = false;        // the Kelvin path ends at "choke in", which a winding joins to the rail
    bool own_drivers = false;  // no shared driver and no gate rail
    bool kelvin_rail =
        true;  // the Kelvin taps are one node, ground; else each its own, and the source rail is ground
    double gate_ohm[2] = {1.3, 1.3};    // inside the chip
    double lead_ohm[4] = {0, 0, 0, 0};  // of the leads, in series: gate, drain, source, Kelvin
    std::string driver_return = "";     // the node the shared driver's return is on; empty: the Kelvin rail
    std::function<void(HandMna&, const std::string& k)> more;  // at the end of each position
    int gate_path[2] = {-1, -1}, kelvin_path[2] = {-1, -1}, drain_path[2] = {-1, -1},
        source_path[2] = {-1, -1};  // inductors, out
    int driver = -1, power_loop = -1;
};

/// Returns the driver's ground, which lies between its supply (none where it turns off) and its return
/// inductance.
inline std::string driver(HandMna& m, const std::string& gate, const std::string& back, const At& at,
                          int* inductor = nullptr) {
    const int first = m.rl(gate, "driver out " + gate, at.turn_on ? 0.8 : 0.5, 4e-9);
    if (inductor != nullptr) *inductor = first;
    const std::string ground = (at.turn_on ? "driver ground " : "driver out ") + gate;
    if (at.turn_on) m.rlc("driver out " + gate, ground, 8e-3, 0.8e-9, 1e-6);
    m.l(ground, back, 3e-9);
    return ground;
}

inline HandMna build(const At& at, Hand& hand) {
    HandMna m;
    const std::string source_rail = hand.kelvin_rail ? "source rail" : "0";
    for (const std::string k : {"1", "2"}) {
        const int i = k == "1" ? 0 : 1;
        const std::string g = "G" + k, d = "D" + k, s = "S" + k, gp = "GP" + k, dp = "DP" + k, sp = "SP" + k,
                          kp = "KP" + k;
        const std::string t_gate = hand.own_drivers ? "T_gate" + k : "gate rail";
        const std::string t_kelvin = hand.kelvin_rail ? "0" : "T_kelvin" + k;
        if (hand.gate_resistor)
            hand.gate_resistor(m, t_gate, "R" + k, k);
        else
            m.r(t_gate, "R" + k, at.turn_on ? 4.3 : 2.4);
        hand.gate_path[i] = m.l("R" + k, gp, i == 0 ? 7e-9 : 11e-9);
        const auto lead = [&](const std::string& a, const std::string& b, double ohm, double henry) {
            ohm == 0 ? m.l(a, b, henry) : m.rl(a, b, ohm, henry);
        };
        lead(gp, g, hand.gate_ohm[i] + hand.lead_ohm[0], 5e-9);
        lead(dp, d, hand.lead_ohm[1], 2e-9);
        lead(s, sp, hand.lead_ohm[2], 3e-9);
        lead(s, kp, hand.lead_ohm[3], 4e-9);
        hand.drain_path[i] = m.rl("drain rail", dp, 0.6e-3, 4e-9);
        hand.source_path[i] = m.rl(sp, source_rail, 0.5e-3, i == 0 ? 3e-9 : 2.2e-9);
        hand.kelvin_path[i] = m.rl(kp, hand.choke ? "choke in " + k : t_kelvin, 0.2, 5e-9);
        if (hand.device) {
            hand.device(m, g, d, k);
        } else {
            m.c(g, s, 2.1e-9);
            m.c(g, d, 15e-12);
            m.c(d, s, 180e-12);
            m.gm(d, s, g, s, 35);
            m.g(d, s, 50e-3);
        }
        if (hand.more) hand.more(m, k);
    }
    if (!hand.own_drivers)
        driver(m, "gate rail", hand.driver_return.empty() ? "0" : hand.driver_return, at, &hand.driver);
    hand.power_loop = m.rl("drain rail", "loop 1", 4e-3, 9e-9);
    if (at.conducting)
        m.r("loop 1", "loop 2", 12e-3);
    else
        m.rc("loop 1", "loop 2", 0.1, 230e-12);
    m.rlc("loop 2", source_rail, 3e-3, 4e-9, 2e-6);
    m.l("drain rail", source_rail, 150e-6);
    m.rc("drain rail", source_rail, 2, 60e-12);
    return m;
}

/// All finite eigenvalues but those that are zero by structure.
inline constexpr double slowest = 1, fastest = 1e14;

/// The case's eigenvalues at every point against those of the hand-written board. `edit`: after the board is
/// built (couplings).
inline void check(const std::string& case_text, const std::function<Hand(const At&)>& by_hand,
                  const std::function<void(HandMna&, const Hand&)>& edit = {}) {
    const ringquell::Case input = ringquell::read_case_text(case_text, "board.yaml");
    for (const At& at : points) {
        CAPTURE(at.name);
        Hand hand = by_hand(at);
        HandMna m = build(at, hand);
        if (edit) edit(m, hand);
        const auto modes = spectrum::solve(input, spectrum::point(input, at.name));
        CHECK_SPECTRA(spectrum::between(spectrum::of(modes.modes), slowest, fastest),
                      m.eigenvalues(slowest, fastest), 1e-9);
    }
}

}  // namespace hand_board
