// What the elements of real boards must do by themselves: nothing where they are zero, and what their physics
// says where they are not.
#include <doctest/doctest.h>

#include <cmath>

#include "support/case_text.h"
#include "support/hand_board.h"

using namespace ringquell;

namespace {

spectrum::Values eigenvalues(const std::string& text, const std::string& point,
                             const std::vector<std::string>& settings = {}) {
    const Case input = read_case_text(text, "board.yaml", settings);
    return spectrum::of(spectrum::solve(input, spectrum::point(input, point)).modes);
}

/// Four alike positions with isolated drivers, so that each gate loop is closed on itself.
std::string isolated(const std::string& top = "", const std::string& driver = "") {
    std::string text = hand_board::text(top, ", per_position: isolated" + driver);
    text = case_text::replaced(text, "positions: 2", "positions: 4");
    return text.substr(0, text.find("overrides:"));
}

const char* const all_points[] = {"rise", "fall", "release"};

}  // namespace

TEST_CASE("an element that is zero or absent changes nothing, to the last bit") {
    const std::string plain = hand_board::text();
    for (const char* at : all_points) {
        CAPTURE(at);
        const auto wanted = eigenvalues(plain, at);
        for (const char* top :
             {"gate_drain: {capacitance: 0 F, resistance: 2 ohm}\n",
              "tab: {capacitance: 0 F, resistance: 1 ohm}\n", "common_mode_choke: {inductance: 0 H}\n",
              "leg: {inductance: 5 nH, complementary: {on_resistance: 1 ohm}, dc_link: {capacitance: 0 F}}\n",
              "couplings: [{between: [gate_path, kelvin_path], mutual: 0 H}]\n",
              "snubber: {capacitance: 0 F, resistance: 3 ohm}\n",
              "gate_shunt: {capacitance: 0 F, inductance: 1 nH}\n"}) {
            CAPTURE(top);
            CHECK_SPECTRA(eigenvalues(hand_board::text(top), at), wanted, 0.0);
        }
        CHECK_SPECTRA(eigenvalues(hand_board::text("", ", per_position: shared, return_to: kelvin_rail"), at),
                      wanted, 0.0);
        CHECK_SPECTRA(eigenvalues(plain, at, {"device.capacitance.output_resistance=0 ohm"}), wanted, 0.0);
        for (const char* lead : {"gate", "drain", "source", "kelvin"})
            CHECK_SPECTRA(
                eigenvalues(plain, at, {std::string("device.package.") + lead + "_resistance=0 ohm"}), wanted,
                0.0);
        CHECK_SPECTRA(eigenvalues(plain, at, {"junction_temperature[2]=150 degC"}), wanted, 0.0);
    }
    // A diode without capacitance is nothing on the edge that it blocks.
    for (const char* at : {"rise", "fall"}) {
        const std::vector<std::string> diode{"gate_path.diode.blocks=turn_on",
                                             "gate_path.diode.on_resistance=0.3 ohm"};
        CHECK_SPECTRA(eigenvalues(plain, at, diode), eigenvalues(plain, at), 0.0);
    }
    CHECK_SPECTRA(eigenvalues(isolated("", ", barrier_capacitance: 0 F, barrier_resistance: 5 ohm"), "fall"),
                  eigenvalues(isolated(), "fall"), 0.0);
}

TEST_CASE("a diode that conducts into nothing shorts the gate resistor") {
    const std::vector<std::string> diode{"gate_path.diode.blocks=turn_off"}, none{"gate_path.resistor=0 ohm"};
    for (const char* at : {"rise", "fall"})
        CHECK_SPECTRA(eigenvalues(hand_board::text(), at, diode), eigenvalues(hand_board::text(), at, none),
                      1e-9);
}

TEST_CASE("a choke of full coupling leaves a closed gate loop's inductance unchanged, leakage adds to it") {
    for (const char* at : all_points) {
        CAPTURE(at);
        const auto plain = spectrum::between(eigenvalues(isolated(), at), 1, 1e300);
        CHECK_SPECTRA(spectrum::between(
                          eigenvalues(isolated("common_mode_choke: {inductance: 300 nH}\n"), at), 1, 1e300),
                      plain, 1e-9);
        CHECK_SPECTRA(
            spectrum::between(
                eigenvalues(isolated("common_mode_choke: {inductance: 300 nH, leakage: 4 nH}\n"), at), 1,
                1e300),
            spectrum::between(eigenvalues(isolated(), at, {"gate_path.inductance=11 nH"}), 1, 1e300), 1e-9);
    }
}

TEST_CASE("in a closed gate loop a coupling of gate and Kelvin path counts twice, less or more by its sign") {
    // Lg + Lk + 2·M: go and return side by side is a negative M, the wrong way round a positive one.
    for (const char* at : all_points)
        for (const double mutual_nh : {-1.5, 1.5}) {
            CAPTURE(mutual_nh);
            const std::string coupling =
                "couplings: [{between: [gate_path, kelvin_path], mutual: " + std::to_string(mutual_nh) +
                " nH}]\n";
            CHECK_SPECTRA(eigenvalues(isolated(coupling), at),
                          eigenvalues(isolated(), at,
                                      {"gate_path.inductance=" + std::to_string(7 + 2 * mutual_nh) + " nH"}),
                          1e-9);
        }
}

TEST_CASE(
    "with isolated drivers each differential eigenvalue is one of a single position with its rails held") {
    const std::string text = isolated("gate_drain: {capacitance: 2 pF, resistance: 3 ohm}\n");
    const Case input = read_case_text(text, "board.yaml");
    for (const auto& at : hand_board::points) {
        CAPTURE(at.name);
        HandMna m;  // drain and source rails held: both are ground; the driver from the position's gate tap
                    // to its Kelvin tap
        m.r("T_gate", "R", at.turn_on ? 4.3 : 2.4);
        m.l("R", "GP", 7e-9);
        m.rl("GP", "G", 1.3, 5e-9);
        m.rl("0", "DP", 0.6e-3, 4e-9);
        m.l("DP", "D", 2e-9);
        m.l("S", "SP", 3e-9);
        m.rl("SP", "0", 0.5e-3, 3e-9);
        m.l("S", "KP", 4e-9);
        m.rl("KP", "T_kelvin", 0.2, 5e-9);
        hand_board::driver(m, "T_gate", "T_kelvin", at);
        m.rc("GP", "DP", 3, 2e-12);
        m.c("G", "S", 2.1e-9);
        m.c("G", "D", 15e-12);
        m.c("D", "S", 180e-12);
        m.gm("D", "S", "G", "S", 35);
        m.g("D", "S", 50e-3);
        const auto one = m.eigenvalues(hand_board::slowest, hand_board::fastest);
        spectrum::Values wanted;
        for (int k = 0; k < 3; ++k) wanted.insert(wanted.end(), one.begin(), one.end());
        const auto modes = spectrum::solve(input, spectrum::point(input, at.name), Method::blocks);
        CHECK_SPECTRA(spectrum::between(spectrum::of_kind(modes, ModeKind::differential), hand_board::slowest,
                                        hand_board::fastest),
                      wanted, 1e-9);
    }
}

TEST_CASE("alike positions with every element are split into blocks that agree with the whole") {
    for (const char* sharing :
         {"", ", per_position: buffer",
          ", per_position: isolated, barrier_capacitance: 5 pF, barrier_resistance: 3 ohm",
          ", return_to: source_rail"}) {
        CAPTURE(sharing);
        std::string text = hand_board::text(
            "gate_drain: {capacitance: 2 pF}\ntab: {capacitance: 40 pF, resistance: 1 ohm}\n"
            "common_mode_choke: {inductance: 100 nH, leakage: 5 nH, resistance: 90 ohm}\n"
            "leg: {inductance: 12 nH, resistance: 7 mohm, complementary: {capacitance: 110 pF, "
            "on_resistance: 25 "
            "mohm}, dc_link: "
            "{capacitance: 0.5 uF, esr: 6 mohm}}\n",
            sharing);
        text = case_text::replaced(text, "positions: 2", "positions: 3");
        const Case input = read_case_text(
            text.substr(0, text.find("overrides:")), "board.yaml",
            {"gate_path.diode.blocks=turn_on", "gate_path.diode.capacitance=60 pF",
             "device.package.gate_resistance=30 mohm", "device.package.drain_resistance=1 mohm",
             "device.package.source_resistance=2 mohm", "device.package.kelvin_resistance=20 mohm"});
        for (const char* name : all_points) {
            const auto at = spectrum::point(input, name);
            const auto a = spectrum::of(spectrum::solve(input, at, Method::blocks).modes),
                       b = spectrum::of(spectrum::solve(input, at, Method::whole).modes);
            CHECK_SPECTRA(spectrum::between(a, 1e6, 1e300), spectrum::between(b, 1e6, 1e300), 1e-8);
            CHECK(a.size() == b.size());
        }
    }
}
