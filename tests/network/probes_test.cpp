// A probe hung on the board: resistance beside capacitance, behind the inductance of its leads.
#include <doctest/doctest.h>

#include <Eigen/Core>
#include <cmath>
#include <complex>

#include "network/values.h"
#include "ringquell/modes.h"
#include "ringquell/network.h"
#include "ringquell/write_case.h"
#include "support/case_text.h"
#include "support/hand_board.h"
#include "support/relative.h"
#include "support/spectrum.h"

using namespace ringquell;

namespace {

Probe probe(const std::string& from, const std::string& to, double farad, std::optional<double> ohm = {},
            double henry = 0) {
    return {"tip", from, to, farad, ohm, henry, Place{"bench.yaml", 4, 3}};
}

std::string error_of(Case input, const Probe& wrong) {
    input.probes = {wrong};
    try {
        build_network(input, operating_path(input).points.front());
    } catch (const InputError& error) {
        return error.what();
    }
    return "";
}

/// The board of hand_board.h with two probes: one across the gate pins, whole, one of a capacitance alone.
HandMna with_probes_by_hand(const hand_board::At& at) {
    hand_board::Hand hand;
    HandMna m = hand_board::build(at, hand);
    m.l("GP1", "tip", 6e-9);
    m.r("tip", "GP2", 50e3);
    m.c("tip", "GP2", 0.8e-12);
    m.l("DP2", "other tip", 9e-9);
    m.c("other tip", "SP2", 3e-12);
    return m;
}

}  // namespace

TEST_CASE("probes on a board written by hand give that board's eigenvalues") {
    Case input = read_case_text(hand_board::text(), "board.yaml");
    input.probes = {probe("gate pin[1]", "gate pin[2]", 0.8e-12, 50e3, 6e-9),
                    probe("drain pin[2]", "source pin[2]", 3e-12, {}, 9e-9)};
    for (const hand_board::At& at : hand_board::points) {
        CAPTURE(at.name);
        const Modes modes = spectrum::solve(input, spectrum::point(input, at.name));
        CHECK_SPECTRA(spectrum::between(spectrum::of(modes.modes), hand_board::slowest, hand_board::fastest),
                      with_probes_by_hand(at).eigenvalues(hand_board::slowest, hand_board::fastest), 1e-9);
    }
}

TEST_CASE("a probe of nothing changes nothing, to the last bit") {
    const Case bare = case_text::read(case_text::base);
    Case probed = bare;
    probed.probes = {probe("gate pin[1]", "gate pin[2]", 0, {}, 6e-9)};
    const OperatingPoint point = operating_path(bare).points.front();
    CHECK(positions_alike(probed, point));
    const Network without = build_network(bare, point), with = build_network(probed, point);
    CHECK(Eigen::MatrixXd(without.e()) == Eigen::MatrixXd(with.e()));
    CHECK(Eigen::MatrixXd(without.a()) == Eigen::MatrixXd(with.a()));
    const Modes before = spectrum::solve(bare, point), after = spectrum::solve(probed, point);
    REQUIRE(before.modes.size() == after.modes.size());
    for (size_t k = 0; k < before.modes.size(); ++k)
        CHECK(before.modes[k].eigenvalue == after.modes[k].eigenvalue);
}

TEST_CASE("a probe's capacitance across the chip lowers a loop without loss to 1/sqrt(L·(C + C_probe))") {
    Case input = case_text::read(case_text::replaced(case_text::base, "edge: turn_on", "edge: turn_off"),
                                 {"positions=1", "device.gate_resistance=0 ohm", "gate_path.resistor=0 ohm",
                                  "driver.pull_down_resistance=0 ohm"});
    OperatingPoint point = operating_path(input).points.front();
    DieValues& die = point.devices.front().mosfet;
    // The gate loop hangs on the source alone.
    die.transconductance_s = die.output_conductance_s = die.cgd_f = 0;
    const double henry = (7 + 5 + 5 + 4) * 1e-9, farad = 2.3e-9;
    for (const double tip_farad : {0.0, 0.8e-12, 110e-12}) {
        input.probes = {probe("gate[1]", "source[1]", tip_farad)};
        const std::complex<double> expected(0, 1 / std::sqrt(henry * (farad + tip_farad)));
        double nearest = 1;
        for (const Mode& mode : spectrum::solve(input, point).modes)
            nearest = std::min(nearest, relative_difference(mode.eigenvalue, expected));
        CHECK(nearest < 1e-12);
    }
}

TEST_CASE("with a probe the positions are no longer alike, and split by nothing") {
    Case input = case_text::read(case_text::base);
    const OperatingPoint point = operating_path(input).points.front();
    CHECK(positions_alike(input, point));
    input.probes = {probe("gate pin[1]", "gate pin[2]", 0.8e-12)};
    CHECK(!positions_alike(input, point));
    CHECK(spectrum::solve(input, point).method == Method::whole);
}

TEST_CASE("the values of a built network follow the case's probe") {
    Case input = case_text::read(case_text::base);
    const OperatingPoint point = operating_path(input).points.front();
    input.probes = {probe("gate pin[1]", "gate pin[2]", 0.8e-12, 50e3, 6e-9)};
    const Network network = build_network(input, point);
    const internal::NetworkValues rules(network, input, point, internal::NetworkValues::Gains::must_stand);
    input.probes.front() = probe("gate pin[1]", "gate pin[2]", 3.9e-12, 10e3, 11e-9);
    const Network anew = build_network(input, point);
    std::vector<double> values(network.elements.size());
    REQUIRE(rules.evaluate(point, values.data()));
    int of_probe = 0;
    for (size_t i = 0; i < values.size(); ++i) {
        CHECK(values[i] == anew.elements[i].value);
        if (network.elements[i].name.starts_with("probe.")) ++of_probe;
    }
    CHECK(of_probe == 3);
    input.probes.front().capacitance_f = 0;  // another structure
    CHECK(!rules.evaluate(point, values.data()));
}

TEST_CASE("a probe stands in no case file") {
    Case input = case_text::read(case_text::base);
    const std::string before = write_case(input);
    input.probes = {probe("gate pin[1]", "gate pin[2]", 0.8e-12)};
    CHECK(write_case(input) == before);
}

TEST_CASE("a probe at nodes that are not there, or at one node, is refused with its place and the nearest") {
    const Case input = case_text::read(case_text::base);
    CHECK(error_of(input, probe("gate pn[1]", "gate pin[2]", 1e-12)) ==
          "bench.yaml:4:3: probes.tip.between: `gate pn[1]` is no node of this network; did you mean `gate "
          "pin[1]`?");
    CHECK(error_of(input, probe("gate pin[1]", "gate pin[4]", 1e-12)) ==
          "bench.yaml:4:3: probes.tip.between: `gate pin[4]` is no node of this network; did you mean `gate "
          "pin[1]`?");
    CHECK(error_of(input, probe("kelvin rail", "kelvin rail", 1e-12)) ==
          "bench.yaml:4:3: probes.tip.between: `kelvin rail` and `kelvin rail` are one node of this network; "
          "expected two");
    // Nothing of this board joins a tab, and the inside of a string is no node that anyone can reach.
    for (const char* nowhere : {"tab", "inner 1 of power_loop"})
        CHECK(case_text::contains(error_of(input, probe("gate pin[1]", nowhere, 1e-12)),
                                  std::string("`") + nowhere + "` is no node of this network; "));
}
