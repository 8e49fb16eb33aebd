// Kinds of modes, above all of equal ones: whatever the method, each of m equal modes has its own.
#include <doctest/doctest.h>

#include <algorithm>
#include <string>
#include <vector>

#include "modes/common_share.h"
#include "network/reducer.h"
#include "ringquell/check.h"
#include "ringquell/modes.h"
#include "ringquell/network.h"
#include "ringquell/operating_path.h"
#include "ringquell/read_case.h"
#include "support/random_case.h"
#include "support/relative.h"
#include "support/spectrum.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

#ifdef RINGQUELL_SANITIZED
constexpr int random_cases = 4;
#else
constexpr int random_cases = 60;
#endif

/// Gate loops that nothing joins: of isolated drivers without cgd. So the N gate modes are one eigenvalue, of
/// which N − 1 are differential and one common.
std::string isolated(int positions, const std::string& more = "") {
    return "ringquell: 1\npositions: " + std::to_string(positions) + R"(
device:
  kind: mosfet
  gate_resistance: 0.4 ohm
  package: {gate: 3 nH, drain: 2 nH, source: 3 nH, kelvin: 2 nH}
  channel: {transconductance: 20 S, output_conductance: 60 mS}
  capacitance: {cgs: 2 nF, cgd: 0 F, cds: 200 pF}
gate_path: {resistor: 0.2 ohm, inductance: 7 nH}
kelvin_path: {inductance: 5 nH}
drain_path: {inductance: 4 nH}
source_path: {inductance: 2 nH}
driver: {per_position: isolated, pull_up_resistance: 0.1 ohm, pull_down_resistance: 0.1 ohm}
power_loop:
  inductance: 9 nH
  complementary: {capacitance: 240 pF, resistance: 0.1 ohm, on_resistance: 12 mohm}
require: {differential_damping: 0.1, common_damping: 0.1, band: [1 MHz, 1 GHz]}
operation:
  points: [{name: here, edge: turn_on, vds: 400 V, current: 50 A, complementary: blocking}]
)" + more;
}

/// In the band or growing: those of which a kind is known.
struct Counted {
    std::complex<double> eigenvalue;
    ModeKind kind;
    int count;
};
std::vector<Counted> known_kinds(const Modes& modes, const Requirement& require, bool missing_only) {
    std::vector<Counted> out;
    const double target = std::max(require.differential_damping, require.common_damping.value_or(0));
    for (const Mode& m : modes.modes) {
        const bool counts = grows(m) || (m.oscillates() && in_band(m, require));
        if (!counts || (missing_only && !grows(m) && m.damping_ratio() >= target)) continue;
        out.push_back({m.eigenvalue, m.kind, m.multiplicity});
    }
    return out;
}

/// The same modes of the same kinds, as often; equal to `tolerance`.
void check_same(const std::vector<Counted>& a, const std::vector<Counted>& b, double tolerance) {
    for (const auto* from : {&a, &b})
        for (const Counted& wanted : *from) {
            // All of that kind round this eigenvalue, in both.
            const auto count = [&](const std::vector<Counted>& list) {
                int sum = 0;
                for (const Counted& c : list)
                    if (c.kind == wanted.kind &&
                        relative_difference(c.eigenvalue, wanted.eigenvalue) <= tolerance)
                        sum += c.count;
                return sum;
            };
            INFO(kind_name(wanted.kind), " ", wanted.eigenvalue);
            CHECK(count(a) == count(b));
        }
}

/// How often an eigenvalue stands in a list.
int times(const std::vector<Mode>& modes, std::complex<double> eigenvalue) {
    int sum = 0;
    for (const Mode& m : modes)
        if (relative_difference(m.eigenvalue, eigenvalue) <= 1e-8) sum += m.multiplicity;
    return sum;
}

void check_methods_agree(const Case& input) {
    for (const OperatingPoint& point : operating_path(input).points) {
        CAPTURE(point.name);
        const Modes blocks = ModeSolver(input, Method::blocks).solve(point);
        const Modes whole = ModeSolver(input, Method::whole).solve(point);
        check_same(known_kinds(blocks, input.require, false), known_kinds(whole, input.require, false), 1e-7);
        const Modes sparse = ModeSolver(input, Method::sparse).solve(point);
        check_same(known_kinds(blocks, input.require, true), known_kinds(sparse, input.require, true), 1e-7);
    }
}

}  // namespace

TEST_CASE("of N equal gate loops that nothing joins, N − 1 modes are differential and one is common") {
    for (const int n : {2, 3, 5}) {
        const Case input = read_case_text(isolated(n), "isolated.yaml");
        const OperatingPoint point = spectrum::point(input, "here");
        // The loop of 3 + 2 + 7 + 5 nH and 2 nF with 0.7 ohm.
        const double w = 1 / std::sqrt(17e-9 * 2e-9);
        for (const Method method : {Method::blocks, Method::whole, Method::sparse}) {
            CAPTURE(n);
            CAPTURE(static_cast<int>(method));
            int differential = 0, common = 0;
            for (const Mode& m : ModeSolver(input, method).solve(point).modes)
                if (m.oscillates() && relative_difference(std::abs(m.eigenvalue), w) < 1e-9) {
                    CHECK_RELATIVE(m.damping_ratio(), 0.7 / 2 * std::sqrt(2e-9 / 17e-9), 1e-9);
                    CHECK(std::abs(m.common_share - (m.kind == ModeKind::common ? 1 : 0)) < 1e-9);
                    (m.kind == ModeKind::common ? common : differential) += m.multiplicity;
                }
            CHECK(differential == n - 1);
            CHECK(common == 1);
        }
    }
}

TEST_CASE("check finds the same worst mode of each kind by blocks, whole and sparse") {
    const Case input = read_case_text(isolated(4), "isolated.yaml");
    CheckOptions options;
    options.size_gate_resistor = options.follow_modes = false;
    std::vector<CheckResult> results;
    for (const Method method : {Method::blocks, Method::whole, Method::sparse}) {
        options.method = method;
        results.push_back(check(input, options));
    }
    for (const CheckResult& r : results) {
        CHECK(r.verdict == results.front().verdict);
        REQUIRE(r.worst_differential);
        REQUIRE(r.worst_common);
        CHECK_RELATIVE(r.worst_differential->mode.eigenvalue,
                       results.front().worst_differential->mode.eigenvalue, 1e-9);
        CHECK_RELATIVE(r.worst_common->mode.eigenvalue, results.front().worst_common->mode.eigenvalue, 1e-9);
        CHECK(r.worst_differential->mode.multiplicity == 3);
    }
}

TEST_CASE("blocks, whole and sparse agree on every kind of random alike cases") {
    random_case::Generator generator(1207);
    for (int k = 0; k < random_cases; ++k) {
        CAPTURE(k);
        Case input = generator.raw({2 + k % 4, true, true});
        if (k % 3 == 0) {
            // Loops that nothing joins.
            for (Position& p : input.positions) {
                p.gate_drain.reset();
                p.device.kind = DeviceKind::mosfet;
                std::get<FixedCapacitance>(p.device.mosfet.capacitance).cgd_f = 0;
            }
            input.couplings.clear();
            input.driver.per_position = DriverSharing::isolated;
            input.driver.return_to = DriverReturn::kelvin_rail;
        }
        if (k % 2 == 0)
            for (Position& p : input.positions) p.common_mode_choke = CommonModeChoke{200e-9, 20e-9, 100};
        check_methods_agree(input);
    }
}

TEST_CASE("a pair next to the real axis is not listed as its own conjugate once more") {
    // The 38th of this generator's cases listed its pair near the real axis twice.
    random_case::Generator generator(1);
    for (int k = 0; k < 37; ++k) generator.raw({2 + k % 4, k % 2 == 0, true});
    const Case input = generator.raw({3, false, true});
    for (const OperatingPoint& point : operating_path(input).points) {
        CAPTURE(point.name);
        const std::vector<Mode> all = ModeSolver(input, Method::whole).solve(point).modes;
        const std::vector<Mode> some = ModeSolver(input, Method::sparse).solve(point).modes;
        for (const Mode& mode : some) CHECK(times(some, mode.eigenvalue) <= times(all, mode.eigenvalue));
    }
}

TEST_CASE("the energy's amplitudes, a choke's two included, add up to the whole energy") {
    random_case::Generator generator(77);
    for (int k = 0; k < 20; ++k) {
        Case input = generator.raw({3, false, true});
        input.couplings.clear();
        for (Position& p : input.positions) p.common_mode_choke = CommonModeChoke{200e-9, 37e-9, {}};
        const Network network = build_network(input, operating_path(input).points.front());
        Eigen::VectorXd x(network.size());
        for (double& value : x) value = generator.uniform() - 0.5;
        double energy = 0;
        for_each_amplitude(network, [&](const EnergyAmplitude& a) {
            double along = 0;
            for (const auto& [i, sign] : a.right) along += sign * x[i];
            energy += a.value(network) * along * along;
        });
        CHECK_RELATIVE(energy, x.dot(network.e() * x), 1e-12);
    }
}

TEST_CASE("a choke's go-and-return current counts with its leakage, half of the two currents' sum") {
    // Two positions; the vector swings both chokes of position 1, and of position 2 the leakage alone.
    Case input = read_case_text(isolated(2, "common_mode_choke: {inductance: 100 nH, leakage: 40 nH}\n"),
                                "choke.yaml");
    const Network network = build_network(input, operating_path(input).points.front());
    Eigen::VectorXcd x = Eigen::VectorXcd::Zero(network.size());
    for (int i = 0; i < network.size(); ++i) {
        const Unknown& u = network.unknowns[static_cast<size_t>(i)];
        if (u.name == "current common_mode_choke.gate[1]") x[i] = 3;
        if (u.name == "current common_mode_choke.kelvin[1]") x[i] = 1;
        if (u.name == "current common_mode_choke.gate[2]") x[i] = 2;
        if (u.name == "current common_mode_choke.kelvin[2]") x[i] = 2;
    }
    CHECK(x.squaredNorm() == 9 + 1 + 4 + 4);
    // Sums (i_gate + i_kelvin)/2: 2 and 2 with 40 nH; differences: 2 and 0 with 100 − 40/4 nH.
    const double share = (40.0 * 16 + 90 * 4) / (2 * (40.0 * (4 + 4) + 90 * 4));
    CHECK_RELATIVE(common_share(network, x, 2), share, 1e-12);
}

TEST_CASE("equal modes of a space keep their shares whatever basis they come in") {
    const Case input = read_case_text(isolated(3), "isolated.yaml");
    const Network network = build_network(input, operating_path(input).points.front());
    // Voltages of the three cgs: 1, 1, 1 is common; what sums to zero is differential.
    std::vector<int> gates;
    for (int i = 0; i < network.size(); ++i)
        if (network.unknowns[static_cast<size_t>(i)].name.starts_with("voltage device.capacitance.cgs"))
            gates.push_back(i);
    REQUIRE(gates.size() == 3);
    Eigen::MatrixXcd x = Eigen::MatrixXcd::Zero(network.size(), 3);
    const std::complex<double> j(0, 1);
    const Eigen::Matrix3cd basis{{1.0, 1.0, 0.3 * j}, {1.0, -j, 2.0}, {0.5, 0.2, 1.0 + j}};
    for (int i = 0; i < 3; ++i) x.row(gates[static_cast<size_t>(i)]) = basis.row(i);
    const SplitModes split = split_by_share(network, x, 3);
    REQUIRE(split.share.size() == 3);
    CHECK(split.share[0] < 1e-12);
    CHECK(split.share[1] < 1e-12);
    CHECK_RELATIVE(split.share[2], 1.0, 1e-12);
    for (int k = 0; k < 3; ++k)
        CHECK(std::abs(common_share(network, split.x.col(k), 3) - split.share[static_cast<size_t>(k)]) <
              1e-12);
}
