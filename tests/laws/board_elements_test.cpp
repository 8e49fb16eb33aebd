// Each element that real boards add, against a pencil written by hand for two positions that differ
// (hand_board.h).
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <iterator>

#include "support/case_text.h"
#include "support/hand_board.h"

using namespace ringquell;
using hand_board::At;
using hand_board::Hand;

namespace {

/// Added to both positions of the hand-written board.
std::function<Hand(const At&)> adding(
    const std::function<void(HandMna&, const std::string& k, const At&)>& more) {
    return [more](const At& at) {
        Hand hand;
        hand.more = [more, &at](HandMna& m, const std::string& k) { more(m, k, at); };
        return hand;
    };
}

}  // namespace

TEST_CASE("the board without extras is the one written by hand") {
    hand_board::check(hand_board::text(), [](const At&) { return Hand{}; });
}

TEST_CASE("gate_drain is a capacitance and a resistance between gate pin and drain pin") {
    hand_board::check(
        hand_board::text("gate_drain: {capacitance: 2 pF, resistance: 3 ohm}\n"),
        adding([](HandMna& m, const std::string& k, const At&) { m.rc("GP" + k, "DP" + k, 3, 2e-12); }));
    hand_board::check(
        hand_board::text("gate_drain: {capacitance: 2 pF}\n"),
        adding([](HandMna& m, const std::string& k, const At&) { m.c("GP" + k, "DP" + k, 2e-12); }));
}

TEST_CASE("tabs join the drains of all positions to one floating node, each through its own capacitance") {
    hand_board::check(hand_board::text("tab: {capacitance: 40 pF, resistance: 1 ohm}\n", "",
                                       "  - {position: 1, tab: {capacitance: 55 pF}}\n"),
                      adding([](HandMna& m, const std::string& k, const At&) {
                          m.rc("D" + k, "tab", 1, k == "1" ? 55e-12 : 40e-12);
                      }));
}

TEST_CASE("a diode across the gate resistor conducts on one edge and is a capacitance on the other") {
    for (bool blocks_on : {true, false})
        hand_board::check(
            hand_board::text("", "",
                             std::string("  - {position: 1, gate_path: {diode: {blocks: ") +
                                 (blocks_on ? "turn_on" : "turn_off") +
                                 ", capacitance: 80 pF, on_resistance: 0.3 ohm, resistor: 1.5 ohm}}}\n"),
            [blocks_on](const At& at) {
                Hand hand;
                hand.gate_resistor = [blocks_on, &at](HandMna& m, const std::string& a, const std::string& b,
                                                      const std::string& k) {
                    m.r(a, b, at.turn_on ? 4.3 : 2.4);
                    if (k != "1") return;
                    if (at.turn_on == blocks_on)
                        m.rc(a, b, 1.5, 80e-12);
                    else
                        m.r(a, b, 0.3 + 1.5);
                };
                return hand;
            });
}

TEST_CASE("a common-mode choke is two coupled windings, each with its resistance across it") {
    // Two windings of 200 nH whose go-and-return current sees 6 nH: 2·(L − M) = 6 nH, so M = 197 nH between
    // windings that carry the gate current towards the chip and the Kelvin current from it, hence −197 nH.
    for (const bool lossy : {true, false})
        hand_board::check(
            hand_board::text(std::string("common_mode_choke: {inductance: 200 nH, leakage: 6 nH") +
                             (lossy ? ", resistance: 90 ohm}\n" : "}\n")),
            [lossy](const At& at) {
                Hand hand;
                hand.gate_resistor = [lossy, &at](HandMna& m, const std::string& a, const std::string& b,
                                                  const std::string& k) {
                    m.r(a, "choke" + k, at.turn_on ? 4.3 : 2.4);
                    const int gate = m.l("choke" + k, b, 200e-9);
                    const int kelvin = m.l("choke in " + k, "0", 200e-9);
                    m.m(gate, kelvin, -197e-9);
                    if (!lossy) return;
                    m.r("choke" + k, b, 90);
                    m.r("choke in " + k, "0", 90);
                };
                hand.choke = true;
                return hand;
            });
}

TEST_CASE("a leg is a complementary device and a DC link of one position alone") {
    hand_board::check(hand_board::text("leg: {inductance: 12 nH, complementary: {capacitance: 110 pF, "
                                       "resistance: 0.2 ohm, on_resistance: 25 mohm}, "
                                       "dc_link: {capacitance: 0.5 uF, esr: 6 mohm, esl: 3 nH}}\n"),
                      adding([](HandMna& m, const std::string& k, const At& at) {
                          m.l("DP" + k, "leg a" + k, 12e-9);
                          if (at.conducting)
                              m.r("leg a" + k, "leg b" + k, 25e-3);
                          else
                              m.rc("leg a" + k, "leg b" + k, 0.2, 110e-12);
                          m.rlc("leg b" + k, "SP" + k, 6e-3, 3e-9, 0.5e-6);
                      }));
}

TEST_CASE("a leg's resistance stands in series with all of it") {
    hand_board::check(
        hand_board::text("leg: {inductance: 12 nH, resistance: 7 mohm, complementary: {capacitance: 110 pF, "
                         "on_resistance: 25 mohm}}\n"),
        adding([](HandMna& m, const std::string& k, const At& at) {
            if (at.conducting)
                m.rl("DP" + k, "SP" + k, 7e-3 + 25e-3, 12e-9);
            else
                m.rlc("DP" + k, "SP" + k, 7e-3, 12e-9, 110e-12);
        }));
}

TEST_CASE("the resistances of a package's leads stand in series with their inductances") {
    hand_board::check(
        case_text::replaced(hand_board::text(), "kelvin: 4 nH}",
                            "kelvin: 4 nH, gate_resistance: 30 mohm, drain_resistance: 0.4 mohm, "
                            "source_resistance: 0.7 mohm, kelvin_resistance: 25 mohm}"),
        [](const At&) {
            Hand hand;
            const double ohms[] = {30e-3, 0.4e-3, 0.7e-3, 25e-3};
            std::copy(std::begin(ohms), std::end(ohms), hand.lead_ohm);
            return hand;
        });
}

TEST_CASE("the temperature of one position moves what depends on it there, and nothing elsewhere") {
    const std::string text = case_text::replaced(hand_board::text(), "gate_resistance: 1.3 ohm",
                                                 "gate_resistance: {value: 1.3 ohm, per_kelvin: 0.4 %}");
    hand_board::check(
        case_text::replaced(text, "{position: 2,", "{position: 2, junction_temperature: 150 degC,"),
        [](const At&) {
            Hand hand;
            hand.gate_ohm[1] = 1.3 * (1 + 0.004 * (150 - 25));
            return hand;
        });
}

TEST_CASE("the output resistance of a MOSFET stands in series with cds alone") {
    const std::string text =
        case_text::replaced(hand_board::text(), "cds: 180 pF", "cds: 180 pF, output_resistance: 0.7 ohm");
    hand_board::check(text, [](const At&) {
        Hand hand;
        hand.device = [](HandMna& m, const std::string& g, const std::string& d, const std::string& k) {
            const std::string s = "S" + k;
            m.c(g, s, 2.1e-9);
            m.c(g, d, 15e-12);
            m.rc(d, s, 0.7, 180e-12);
            m.gm(d, s, g, s, 35);
            m.g(d, s, 50e-3);
        };
        return hand;
    });
}

TEST_CASE("buffers: every position has its own driver, from its own gate tap to the Kelvin rail") {
    hand_board::check(hand_board::text("", ", per_position: buffer"), [](const At& at) {
        Hand hand;
        hand.own_drivers = true;
        hand.more = [&at](HandMna& m, const std::string& k) { hand_board::driver(m, "T_gate" + k, "0", at); };
        return hand;
    });
}

TEST_CASE(
    "isolated drivers return at their own Kelvin taps, with a barrier from their ground to the source rail") {
    for (const bool barrier : {true, false})
        hand_board::check(
            hand_board::text(
                "", barrier ? ", per_position: isolated, barrier_capacitance: 9 pF, barrier_resistance: 4 ohm"
                            : ", per_position: isolated"),
            [barrier](const At& at) {
                Hand hand;
                hand.own_drivers = true;
                hand.kelvin_rail = false;
                hand.more = [&at, barrier](HandMna& m, const std::string& k) {
                    const std::string ground = hand_board::driver(m, "T_gate" + k, "T_kelvin" + k, at);
                    if (barrier) m.rc(ground, "0", 4, 9e-12);
                };
                return hand;
            });
}

TEST_CASE("a driver's return can be at the source rail's feed") {
    hand_board::check(hand_board::text("", ", return_to: source_rail"), [](const At&) {
        Hand hand;
        hand.driver_return = "source rail";
        return hand;
    });
    hand_board::check(hand_board::text("", ", per_position: buffer, return_to: source_rail"),
                      [](const At& at) {
                          Hand hand;
                          hand.own_drivers = true;
                          hand.more = [&at](HandMna& m, const std::string& k) {
                              hand_board::driver(m, "T_gate" + k, "source rail", at);
                          };
                          return hand;
                      });
}

TEST_CASE(
    "a cascode's JFET gate ends on the MOSFET's source or on the source pin, its output resistance is beside "
    "its cgd") {
    for (const bool source_pin : {true, false}) {
        std::string text = hand_board::text();
        const size_t from = text.find("device:"), to = text.find("gate_path:");
        text.replace(from, to - from,
                     std::string(R"(device:
  kind: cascode
  gate_resistance: 1.3 ohm
  package: {gate: 5 nH, drain: 2 nH, source: 3 nH, kelvin: 4 nH}
  bonds: {mid: 0.4 nH, jfet_gate: 0.6 nH)") +
                         (source_pin ? ", jfet_gate_to: source_pin}" : "}") + R"(
  mosfet:
    channel: {transconductance: 60 S, output_conductance: 50 mS}
    capacitance: {cgs: 1.4 nF, cgd: 80 pF, cds: 600 pF, output_resistance: 0.05 ohm}
  jfet:
    gate_resistance: 1.5 ohm
    channel: {transconductance: 4 S, output_conductance: 3 S}
    capacitance: {cgs: 1 nF, cgd: 1.1 nF, cds: 20 pF, output_resistance: 0.3 ohm}
)");
        hand_board::check(text, [source_pin](const At&) {
            Hand hand;
            hand.device = [source_pin](HandMna& m, const std::string& g, const std::string& d,
                                       const std::string& k) {
                const std::string s = "S" + k, mid = "M" + k, js = "JS" + k, jg = "J" + k;
                m.c(g, s, 1.4e-9);
                m.c(g, mid, 80e-12);
                m.rc(mid, s, 0.05, 600e-12);
                m.gm(mid, s, g, s, 60);
                m.g(mid, s, 50e-3);
                m.l(mid, js, 0.4e-9);
                m.c(jg, js, 1e-9);
                m.rc(jg, d, 0.3, 1.1e-9);
                m.c(d, js, 20e-12);
                m.gm(d, js, jg, js, 4);
                m.g(d, js, 3);
                m.rl(jg, source_pin ? "SP" + k : s, 1.5, 0.6e-9);
            };
            return hand;
        });
    }
}

TEST_CASE(
    "couplings by mutual inductance and by coefficient join the inductances they name, with the directions "
    "of the table") {
    hand_board::check(
        hand_board::text(R"(couplings:
  - {between: [gate_path, kelvin_path], mutual: -2 nH}
  - {between: [gate_path, source_path], coefficient: 0.12}
  - {between: ["drain_path[1]", "gate_path[2]"], mutual: 1.1 nH}
  - {between: [driver, power_loop], mutual: 0.9 nH}
  - {between: [power_loop, "source_path[2]"], coefficient: -0.15}
)"),
        [](const At&) { return Hand{}; },
        [](HandMna& m, const Hand& hand) {
            m.m(hand.gate_path[0], hand.kelvin_path[0], -2e-9);
            m.m(hand.gate_path[1], hand.kelvin_path[1], -2e-9);
            m.m(hand.gate_path[0], hand.source_path[0], 0.12 * std::sqrt(7e-9 * 3e-9));
            m.m(hand.gate_path[1], hand.source_path[1], 0.12 * std::sqrt(11e-9 * 2.2e-9));
            m.m(hand.drain_path[0], hand.gate_path[1], 1.1e-9);
            m.m(hand.driver, hand.power_loop, 0.9e-9);
            m.m(hand.power_loop, hand.source_path[1], -0.15 * std::sqrt(9e-9 * 2.2e-9));
        });
}
