// A network's ports: currents fed in between two nodes, and the voltage there.
#include <doctest/doctest.h>

#include <Eigen/Core>
#include <complex>

#include "ringquell/modes.h"
#include "ringquell/network.h"
#include "ringquell/operating_path.h"
#include "support/case_text.h"
#include "support/dense.h"
#include "support/hand_board.h"
#include "support/relative.h"

using namespace ringquell;

namespace {

using Complex = std::complex<double>;
using Ports = std::vector<std::pair<std::string, std::string>>;

/// Bᵀ·(sE − A)⁻¹·B in ohm.
Eigen::MatrixXcd impedance(const Network& network, Complex s) {
    const Eigen::MatrixXcd e = Eigen::MatrixXd(network.e()).cast<Complex>();
    const Eigen::MatrixXcd a = Eigen::MatrixXd(network.a()).cast<Complex>();
    const Eigen::MatrixXcd b = Eigen::MatrixXd(network.b()).cast<Complex>();
    return b.transpose() * dense::solve(s * e - a, b);
}

Network with_ports(const Case& input, const OperatingPoint& point, const Ports& ports) {
    NetworkOptions options;
    options.ports = ports;
    return build_network(input, point, options);
}

const Ports chip{{"gate[1]", "source[1]"}, {"drain[1]", "source[1]"}};

double distance(Complex a, Complex b) {
    return std::abs(a - b) / std::abs(b);
}

}  // namespace

TEST_CASE(
    "the impedance between gate and source of one chip is that of its capacitance beside R and L of the "
    "loop") {
    const Case input = case_text::read(case_text::base, {"positions=1"});
    OperatingPoint point = operating_path(input).points.front();
    DieValues& die = point.devices.front().mosfet;
    die.transconductance_s = die.output_conductance_s = die.cgd_f =
        0;  // the gate loop hangs on the source alone
    const Network network = with_ports(input, point, chip);
    const double ohm = 0.9 + 4.7 + 1.1;           // driver, gate resistor, chip
    const double henry = (7 + 5 + 5 + 4) * 1e-9;  // gate path, Kelvin path, both of the package
    const double farad = 2.3e-9, bypass_farad = 1e-6;
    for (const double hz : {1e6, 23e6, 400e6}) {
        const Complex s(-0.1 * hz, 6.283185307179586 * hz);
        const Complex loop = ohm + s * henry + 1.0 / (s * bypass_farad);
        const Eigen::MatrixXcd z = impedance(network, s);
        CHECK(distance(z(0, 0), 1.0 / (s * farad + 1.0 / loop)) < 1e-12);
        CHECK(std::abs(z(1, 0)) < 1e-12 * std::abs(z(0, 0)));
    }
}

TEST_CASE("without a gain it does not matter which of two ports is fed; with one it does") {
    const Case input = read_case_text(hand_board::text(), "hand.yaml");
    OperatingPoint point = operating_path(input).points.at(1);
    const Ports ports{
        {"gate[1]", "source[1]"}, {"drain pin[2]", "source pin[2]"}, {"drain rail", "source rail"}};
    const Complex s(-1e6, 3e8);
    const auto asymmetry = [&] {
        const Eigen::MatrixXcd z = impedance(with_ports(input, point, ports), s);
        REQUIRE(z.cwiseAbs().minCoeff() > 0);
        return (z - z.transpose()).norm() / z.norm();
    };
    CHECK(asymmetry() > 1e-3);
    for (DeviceValues& device : point.devices) device.mosfet.transconductance_s = 0;
    CHECK(asymmetry() < 1e-12);
}

TEST_CASE("a mode is where the port that an element is taken out of answers with its negative") {
    // −1 = g·Z(λ) across the channel for an output conductance, −1 = gm·Z(λ) from channel to gate for a gain.
    const Case input = case_text::read(case_text::base, {"positions=1"});
    OperatingPoint full = operating_path(input).points.front();
    DieValues& die = full.devices.front().mosfet;
    OperatingPoint without_g = full, without_gm = full;
    without_g.devices.front().mosfet.output_conductance_s = 0;
    without_gm.devices.front().mosfet.transconductance_s = 0;
    const Network no_g = with_ports(input, without_g, chip), no_gm = with_ports(input, without_gm, chip);
    int oscillating = 0;
    for (const Mode& mode : ModeSolver(input).solve(full).modes) {
        if (!mode.oscillates()) continue;
        ++oscillating;
        CHECK(distance(die.output_conductance_s * impedance(no_g, mode.eigenvalue)(1, 1), -1) < 1e-6);
        CHECK(distance(die.transconductance_s * impedance(no_gm, mode.eigenvalue)(0, 1), -1) < 1e-6);
    }
    CHECK(oscillating >= 1);
}

TEST_CASE("a port at nodes that are not there, or that nothing holds, is refused by name") {
    const Case input = case_text::read(case_text::base);
    const OperatingPoint point = operating_path(input).points.front();
    CHECK_THROWS_WITH_AS(with_ports(input, point, {{"gate[4]", "source[1]"}}),
                         "gate[4]: is no node of this network; expected one that it names in its joints",
                         InputError);
    CHECK_THROWS_WITH_AS(with_ports(input, point, {{"drain[1]", "tab"}}),
                         "tab: is a node that nothing of this network holds", InputError);
    CHECK(with_ports(input, point, {{"source rail", "source rail"}}).ports.front().across.empty());
}
