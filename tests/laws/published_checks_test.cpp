// Published circuits as cases, through the whole pipeline: reader, operating path, network, reduction, modes.
//
// Two alike positions in a star make every shared rail a virtual short for the differential mode, so that a
// circuit of one device can be written as a case. Beside each check stands its source and how we have it:
// "read", "from memory", or "derived by us". TBC: community transcription (github Lavitha/Scilab_TBC) of the
// book, read; the book itself was not. docs/checks.md lists all.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "network/reducer.h"
#include "ringquell/acceptable.h"
#include "ringquell/bead_fit.h"
#include "ringquell/explain.h"
#include "ringquell/network.h"
#include "ringquell/read_case.h"
#include "support/oscillators.h"
#include "support/spectrum.h"

using namespace ringquell;
using namespace ringquell::internal;
using namespace oscillators;

namespace {

constexpr double printed = 3e-6;   // what the list prints: six digits
constexpr double marginal = 1e-9;  // damping ratio that counts as none where the threshold is exact

Modes modes_of(const Case& input, Method method = Method::automatic) {
    return spectrum::solve(input, spectrum::point(input, "here"), method);
}

/// The least damped oscillatory differential mode.
Mode differential(const std::string& text, const std::vector<std::string>& settings = {}) {
    const Case input = read_case_text(text, "published.yaml", settings);
    for (const Mode& mode : modes_of(input).modes)
        if (mode.kind == ModeKind::differential && mode.oscillates()) return mode;
    FAIL("no oscillatory differential mode");
    return {};
}

// Check 7. Rg = [−(Lg + Ld) + √((Lg + Ld)² + 4·gm²·Ld²·Lg/Cgd)]/(2·gm·Ld) with Cgs = Cds = 0: Routh's
// criterion, derived by us.
std::string gate_drain_oscillator(double gate_resistance_ohm, double transconductance_s = 10) {
    return bare_case(fmt::format(R"(device:
  kind: mosfet
  package: {{kelvin: 0 H}}
  channel: {{transconductance: {:.17g} S, output_conductance: 0 S}}
  capacitance: {{cgs: 0 F, cgd: 100 pF, cds: 0 F}}
gate_path: {{resistor: {:.17g} ohm, inductance: 10 nH}}
drain_path: {{inductance: 5 nH}}
)",
                                 transconductance_s, gate_resistance_ohm));
}
const double gate_drain_threshold_ohm =
    (-15e-9 + std::sqrt(225e-18 + 4 * 100 * 25e-18 * 10e-9 / 100e-12)) / (2 * 10 * 5e-9);

}  // namespace

// Check 1. Re Zin = −gm/(ω²·Cgs·CL): T. Lee, CMOS RFICs, ch. 9 prob. 7, worked at
// electrondepot.com/electrodesign/capacitvely-loaded-source-follower-341441-.htm, read. Threshold Rg =
// gm·Lg/(Cgs + CL) derived by us.
TEST_CASE("a capacitively loaded follower with gate inductance needs the published gate resistance") {
    const double threshold = 1 * 10e-9 / (1e-9 + 200e-12);
    CHECK_RELATIVE(threshold, 8.33333, printed);
    const Mode at = differential(follower(threshold));
    CHECK(std::abs(at.damping_ratio()) < marginal);
    CHECK_RELATIVE(at.ringing_frequency_hz(), 123.281e6, printed);
    const Mode without = differential(follower(0));
    CHECK_RELATIVE(without.eigenvalue.real(), 2.76199e8, printed);
    CHECK_RELATIVE(without.damping_ratio(), -0.290311, printed);
    CHECK_RELATIVE(differential(follower(2 * threshold)).damping_ratio(), 0.153118, printed);
}

TEST_CASE(
    "explain says of the follower that gm and the load feed it, and which gate resistance alone cures it") {
    const Case input = read_case_text(follower(2), "published.yaml", {"require.differential_damping=1e-12"});
    const Explanation explanation = explain(input);
    REQUIRE(!explanation.modes.empty());
    const ExplainedMode& mode = explanation.modes.front();
    REQUIRE(mode.found.mode.kind == ModeKind::differential);
    const auto row = [&](const std::string& key) {
        const auto it = std::find_if(mode.elements.begin(), mode.elements.end(),
                                     [&](const ExplainedElement& e) { return e.share.key == key; });
        REQUIRE(it != mode.elements.end());
        return *it;
    };
    CHECK(mode.found.fed_by_gain());
    CHECK(row("device.jfet.channel.transconductance").share.damping_share < 0);
    CHECK(row("device.jfet.channel.transconductance").share.damping_slope < 0);
    // Re Zin = −gm/(ω²·Cgs·CL) needs the load: it is of the loop that rings, and gm is all that feeds it.
    const auto named = [&](const std::vector<size_t>& which, const std::string& key) {
        return std::any_of(which.begin(), which.end(),
                           [&](size_t k) { return mode.elements[k].share.key == key; });
    };
    CHECK(named(mode.loop, "device.mosfet.capacitance.cds"));
    CHECK(mode.gain.size() == 1);
    CHECK(named(mode.gain, "device.jfet.channel.transconductance"));
    const ExplainedElement gate = row("device.jfet.gate_resistance");
    CHECK(gate.share.damping_slope > 0);
    REQUIRE(gate.passes_at);
    CHECK_RELATIVE(*gate.passes_at, 1 * 10e-9 / (1e-9 + 200e-12), 2e-6);
}

TEST_CASE("the gate–drain inductance oscillator starts at the closed form's resistance and frequency") {
    CHECK_RELATIVE(gate_drain_threshold_ohm, 9.85112, printed);
    const Mode at = differential(gate_drain_oscillator(gate_drain_threshold_ohm));
    CHECK(std::abs(at.damping_ratio()) < marginal);
    CHECK_RELATIVE(at.ringing_frequency_hz(), 22.3397e6, printed);
    CHECK(differential(gate_drain_oscillator(0.99 * gate_drain_threshold_ohm)).damping_ratio() < 0);
    CHECK(differential(gate_drain_oscillator(1.01 * gate_drain_threshold_ohm)).damping_ratio() > 0);
}

TEST_CASE("the window of the gate–drain oscillator's resistor begins at the closed form's resistance") {
    const Case input =
        read_case_text(gate_drain_oscillator(1), "published.yaml", {"require.differential_damping=1e-12"});
    ModeSolver solver(input);
    const Acceptable found =
        acceptable_gate_resistance(solver, {spectrum::point(input, "here")}, Edge::turn_on);
    REQUIRE(found.windows.size() == 1);
    CHECK(found.complete);
    CHECK_RELATIVE(found.windows[0].low, gate_drain_threshold_ohm, 1e-9);
    CHECK_RELATIVE(found.windows[0].high, 47.0, 1e-12);
}

TEST_CASE("without gm the gate–drain oscillator loses two states, counted by structure") {
    const auto states = [](double transconductance_s) {
        const Case input = read_case_text(gate_drain_oscillator(5, transconductance_s), "published.yaml");
        const Network network = build_network(input, spectrum::point(input, "here"));
        Reducer reducer(network);
        reducer.evaluate(network);
        return static_cast<int>(reducer.a().rows()) + reducer.structural_zeros();
    };
    // With gm each position has the currents of two inductors and a capacitor's voltage. Without, its two
    // inductors are in series.
    CHECK(states(10) == 6);
    CHECK(states(0) == 4);
}

// Check 8. A symmetrical pair's spectrum is its half-circuit's and its common circuit's: Bartlett's bisection
// theorem, from memory; numbers derived by us. Three shared inductances (gate 4, drain 6, source 0.5 nH) meet
// in one node: as loops, 4.5 nH from gate to source rail, 6.5 nH from drain to source rail, and 0.5 nH
// between them.
TEST_CASE("a pair's spectrum is its half-circuit's and its common circuit's") {
    const std::string text = bare_case(
        R"(device:
  kind: mosfet
  channel: {transconductance: 10 S, output_conductance: 0.05 S}
  capacitance: {cgs: 1000 pF, cgd: 100 pF, cds: 300 pF}
gate_path: {resistor: 2 ohm, inductance: 10 nH}
kelvin_path: {inductance: 1000 H}
drain_path: {inductance: 5 nH}
source_path: {inductance: 1 nH}
)",
        R"(driver: {pull_up_resistance: 0 ohm, pull_down_resistance: 0 ohm, inductance: 4.5 nH, return_to: source_rail}
power_loop: {inductance: 6.5 nH, complementary: {on_resistance: 0 ohm}}
couplings: [{between: [driver, power_loop], mutual: 0.5 nH}]
require: {differential_damping: 0.1, band: [1 MHz, 1 GHz]}
)");
    const Case input = read_case_text(text, "published.yaml");
    for (Method method : {Method::blocks, Method::whole}) {
        int found = 0, oscillatory = 0;
        for (const Mode& mode : modes_of(input, method).modes) {
            if (!mode.oscillates() || mode.natural_frequency_hz() < 1e6) continue;
            const std::complex<double> differential_pair(-1.21646e8, 3.87141e8),
                common_pair(-5.29730e7, 2.25088e8);
            const std::complex<double> wanted =
                mode.kind == ModeKind::differential ? differential_pair : common_pair;
            ++oscillatory;
            if (std::abs(mode.eigenvalue - wanted) <= printed * std::abs(wanted)) ++found;
        }
        CHECK(found == 2);
        CHECK(oscillatory >= 2);
    }
    // Eight finite eigenvalues of the circuit, four of each half; the Kelvin paths that the case must have
    // add the rest, all slow.
    for (ModeKind kind : {ModeKind::differential, ModeKind::common}) {
        const auto fast =
            spectrum::between(spectrum::of_kind(modes_of(input, Method::blocks), kind), 1e4, 1e15);
        CHECK(fast.size() == 4);
    }
}

// Check 3. Sedra & Smith: start of oscillation at gm·R = C2/C1 (C1 at the drain, C2 at the gate), from
// memory.
TEST_CASE("a Colpitts oscillator starts at the textbook's gm and frequency") {
    const Mode at = differential(colpitts(1e-6, 300e-12, 100e-12, 3e-3, 1e3));
    CHECK(std::abs(at.damping_ratio()) < 1e-7);
    CHECK_RELATIVE(at.ringing_frequency_hz(), 18.3776e6, printed);
    CHECK_RELATIVE(differential(colpitts(1e-6, 300e-12, 100e-12, 6e-3, 1e3)).damping_ratio(), -0.0316098,
                   printed);
    // FOSSEE, Scilab-TBC-Uploads 2498 Ex 5.36, read: 50 µH, 300/100 pF, 2.59899 MHz, least gain 3.
    const Mode fossee = differential(colpitts(50e-6, 300e-12, 100e-12, 3 / 5e4, 5e4));
    CHECK(std::abs(fossee.damping_ratio()) < 1e-7);
    CHECK_RELATIVE(fossee.ringing_frequency_hz(), 2.59899e6, printed);
}

// Check 2. Roddy, Electronic Communication, Ex 6.4.1 p. 205 (TBC): ω² = 1/(L·Cs) + 1/(R1·R2·C1·C2), read; gm
// derived by us. The loss at the gate is a gate shunt whose capacitance is too large to matter.
TEST_CASE("a Colpitts oscillator with losses on both sides starts at the textbook's frequency") {
    const double w = 2 * std::numbers::pi * 928.025e3;
    const double gm = 400e-6 * (300e-12 / 5e3 + 100e-12 / 10e3) * w * w - 1 / 10e3 - 1 / 5e3;
    CHECK_RELATIVE(gm, 0.652000e-3, 1e-5);
    const Mode at = differential(colpitts(400e-6, 300e-12, 100e-12, 0.652000e-3, 5e3,
                                          "gate_shunt: {capacitance: 1 F, resistance: 10 kohm}\n"));
    CHECK(std::abs(at.damping_ratio()) < 1e-5);
    CHECK_RELATIVE(at.ringing_frequency_hz(), 928.025e3, printed);
}

// Check 4. gm·R = L1/L2, derived by us; Chattopadhyay & Rakshit, Ex 11.12.2 (TBC), read: 400 pF, 60 kHz,
// L2/L1 = 90/0.2.
TEST_CASE("a Hartley oscillator starts at the textbook's gm and frequency") {
    const Mode at = differential(hartley(1e-6, 2e-6, 100e-12, 0.5e-3, 1e3));
    CHECK(std::abs(at.damping_ratio()) < marginal);
    CHECK_RELATIVE(at.ringing_frequency_hz(), 9.18881e6, printed);
    const Mode book = differential(hartley(39.0033e-6, 17.5515e-3, 400e-12, 0.2 / 90 * 1e-3, 1e3));
    CHECK(std::abs(book.damping_ratio()) < 1e-5);
    CHECK_RELATIVE(book.ringing_frequency_hz(), 60e3, printed);
}

// Check 6. The input conductance of a stage with an inductive drain load, −gm·ω²·Ld·Cgd/(1 − ω²·Ld·Cgd):
// classical (Terman), from memory; 1 S, 10 nH, 20 pF, 50 MHz: −20.1367 mS, derived by us. A gate shunt of
// just that conductance makes it marginal, with a gate inductance that tunes out the input capacitance Cgd/(1
// − ω²·Ld·Cgd).
TEST_CASE("an inductive drain load gives the published negative input conductance") {
    const double w = 2 * std::numbers::pi * 50e6, left = 1 - w * w * 10e-9 * 20e-12;
    const std::string text = bare_case(fmt::format(R"(device:
  kind: mosfet
  package: {{kelvin: 0 H}}
  channel: {{transconductance: 1 S, output_conductance: 0 S}}
  capacitance: {{cgs: 0 F, cgd: 20 pF, cds: 0 F}}
gate_path: {{inductance: {:.17g} H}}
drain_path: {{inductance: 10 nH}}
gate_shunt: {{capacitance: 1 F, resistance: {:.17g} ohm}}
)",
                                                   left / (w * w * 20e-12), 1 / 20.1367e-3));
    const Mode at = differential(text);
    CHECK(std::abs(at.damping_ratio()) < 1e-5);
    CHECK_RELATIVE(at.ringing_frequency_hz(), 50e6, printed);
}

// Check 26. Bird, Ex 43.12 (TBC), read: 1 mH and 0.2 mH, M = 10 µH, C1 = 400 pF: 251.646 kHz, C2 = 2 nF, k =
// 0.0223607. The lossless modes f/√(1 ± k) derived by us. Gate and drain path are the two coils.
TEST_CASE("a coupled tuned pair has the two published modes") {
    const Case input = read_case_text(bare_case(R"(device:
  kind: mosfet
  package: {kelvin: 0 H}
  channel: {transconductance: 0 S, output_conductance: 0 S}
  capacitance: {cgs: 400 pF, cgd: 0 F, cds: 2 nF}
gate_path: {inductance: 1 mH}
drain_path: {inductance: 0.2 mH}
couplings: [{between: [gate_path, drain_path], mutual: 10 uH}]
)"),
                                      "published.yaml");
    std::vector<double> found;
    for (const Mode& mode : modes_of(input).modes)
        if (mode.kind == ModeKind::differential) found.push_back(mode.ringing_frequency_hz());
    std::sort(found.begin(), found.end());
    REQUIRE(found.size() == 2);
    CHECK_RELATIVE(found[0], 248.879e3, printed);
    CHECK_RELATIVE(found[1], 254.508e3, printed);
    const double k = 10e-6 / std::sqrt(1e-3 * 0.2e-3);
    CHECK_RELATIVE(k, 0.0223607, printed);
    CHECK_RELATIVE(found[0] * std::sqrt(1 + k), 251.646e3, printed);
}

// Check 36. R ‖ L ‖ C, a textbook's formula, from memory: 100 Ω, 1 µH, 1 pF: 100 Ω at 159.155 MHz; 28.4651
// + 45.1248j Ω at 10 MHz.
TEST_CASE("a bead has the textbook's impedance, alone and in a gate loop") {
    Bead bead;
    bead.capacitance_f = 1e-12;
    bead.sections = {{100, 1e-6}};
    const std::complex<double> j(0, 1);
    const auto at_hz = [&](double f) { return bead_impedance_ohm(bead, 2 * std::numbers::pi * f * j); };
    CHECK_RELATIVE(at_hz(159.155e6), std::complex<double>(100, 0), 1e-5);
    CHECK_RELATIVE(at_hz(10e6), std::complex<double>(28.4651, 45.1248), printed);
    // In series with 1 nF and 5 nH and nothing else it must close the loop: Z(λ) + 5 nH·λ + 1/(1 nF·λ) = 0 at
    // every eigenvalue.
    const Case input = read_case_text(bare_case(R"(device:
  kind: mosfet
  package: {kelvin: 0 H}
  channel: {transconductance: 0 S, output_conductance: 0 S}
  capacitance: {cgs: 1 nF, cgd: 0 F, cds: 0 F}
gate_path: {inductance: 5 nH, bead: {resistance: 100 ohm, inductance: 1 uH, capacitance: 1 pF}}
drain_path: {resistance: 1 ohm}
)"),
                                      "published.yaml");
    const auto values = spectrum::of_kind(modes_of(input), ModeKind::differential);
    CHECK(values.size() == 4);
    for (const auto& s : values) {
        const std::complex<double> z = 1.0 / (1 / 100.0 + 1.0 / (s * 1e-6) + s * 1e-12);
        const std::complex<double> rest = s * 5e-9 + 1.0 / (s * 1e-9);
        CHECK_RELATIVE(z, -rest, 1e-10);
    }
}

// Check 38. A chain of N = 5 with fixed ends: f_k = 2/(2π·√(L·C))·sin(kπ/12), from memory; 10 nH, 100 pF.
// Five devices' output capacitances along a drain bus, which the power loop closes at one end and the last
// position's own leg at the other.
TEST_CASE("devices along a drain bus ring at the frequencies of an LC chain") {
    const Case input =
        read_case_text(bare_case(R"(device:
  kind: mosfet
  package: {kelvin: 0 H}
  channel: {transconductance: 0 S, output_conductance: 0 S}
  capacitance: {cgs: 0 F, cgd: 0 F, cds: 100 pF}
buses: {drain: {inductance: 10 nH}}
overrides:
  - {position: 5, leg: {inductance: 10 nH, complementary: {on_resistance: 0 ohm}}}
)",
                                 R"(driver: {pull_up_resistance: 0 ohm, pull_down_resistance: 0 ohm}
power_loop: {inductance: 10 nH, complementary: {on_resistance: 0 ohm}}
require: {differential_damping: 0.1}
)",
                                 5),
                       "published.yaml");
    std::vector<double> found;
    for (const Mode& mode : modes_of(input).modes) {
        CHECK(std::abs(mode.damping_ratio()) < marginal);
        found.push_back(mode.ringing_frequency_hz());
    }
    std::sort(found.begin(), found.end());
    const std::vector<double> wanted{82.3847e6, 159.155e6, 225.079e6, 275.664e6, 307.464e6};
    REQUIRE(found.size() == wanted.size());
    for (size_t k = 0; k < wanted.size(); ++k) CHECK_RELATIVE(found[k], wanted[k], printed);
}
