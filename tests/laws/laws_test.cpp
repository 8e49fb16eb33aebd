// Laws that hold for every network, on random cases with every element of the model (random_case.h).
#include <doctest/doctest.h>

#include <Eigen/Core>
#include <algorithm>
#include <cmath>

#include "ringquell/network.h"
#include "support/dense.h"
#include "support/random_case.h"
#include "support/spectrum.h"

using namespace ringquell;
using random_case::Generator;

namespace {

constexpr int cases = 60;

/// A case of every kind in turn: 1 to 6 positions, alike and uneven.
random_case::Traits traits_of(int k, bool gain) {
    return {1 + k % 6, k % 2 == 0, gain};
}

/// What issue 2 asks of eigenvalues in the band. Rounding is a share of the largest ones, so slow ones, below
/// the band, are known to fewer digits.
constexpr double slow = 1e6, fast_tolerance = 1e-6, slow_tolerance = 1e-5;

void check_equal(const spectrum::Values& a, const spectrum::Values& b) {
    CHECK(a.size() == b.size());
    CHECK_SPECTRA(spectrum::between(a, slow, 1e300), spectrum::between(b, slow, 1e300), fast_tolerance);
    CHECK_SPECTRA(spectrum::between(a, 0, slow), spectrum::between(b, 0, slow), slow_tolerance);
}

spectrum::Values all(const Modes& modes) {
    return spectrum::of(modes.modes);
}

}  // namespace

TEST_CASE("a network without transconductance has no growing mode") {
    Generator generator(101);
    for (int k = 0; k < cases; ++k) {
        const Case input = generator.make(traits_of(k, false));
        CAPTURE(k);
        for (const OperatingPoint& at : operating_path(input).points)
            for (const Mode& mode : spectrum::solve(input, at).modes) {
                CAPTURE(mode.eigenvalue);
                CHECK(mode.eigenvalue.real() <=
                      (std::abs(mode.eigenvalue) < slow ? slow_tolerance : fast_tolerance) *
                          std::abs(mode.eigenvalue));
            }
    }
}

TEST_CASE("a network without transconductance takes energy: E is not negative, A + Aᵀ not positive") {
    Generator generator(102);
    for (int k = 0; k < cases; ++k) {
        const Case input = generator.make(traits_of(k, false));
        CAPTURE(k);
        for (const OperatingPoint& at : operating_path(input).points) {
            const Network network = build_network(input, at);
            const Eigen::MatrixXd e(network.e()), a(network.a());
            CHECK((e - e.transpose()).norm() == 0);
            const Eigen::MatrixXd power = a + a.transpose();
            // Scaled to a diagonal of one, so that rounding is judged row by row.
            const auto lowest = [](const Eigen::MatrixXd& m) {
                const Eigen::VectorXd s =
                    m.diagonal().unaryExpr([](double x) { return x > 0 ? 1 / std::sqrt(x) : 1.0; });
                return dense::symmetric_eigenvalues(s.asDiagonal() * m * s.asDiagonal())(0);
            };
            const double rounding = 1e-14 * network.size();
            CHECK(lowest(e) >= -rounding);
            CHECK(lowest(-power) >= -rounding);
        }
    }
}

TEST_CASE("scaling time, impedance or both scales the eigenvalues so") {
    Generator generator(103);
    for (int k = 0; k < cases; ++k) {
        const Case input = generator.make(traits_of(k, true));
        CAPTURE(k);
        const double t = generator.between(0.2, 5), z = generator.between(0.2, 5);
        struct Scaling {
            double r, l, c, time;
        };
        for (const OperatingPoint& at : operating_path(input).points) {
            const auto before = all(spectrum::solve(input, at));
            for (const Scaling& s :
                 {Scaling{1, t, t, t}, Scaling{z, z, 1 / z, 1}, Scaling{z, t * z, t / z, t}}) {
                const Case changed = random_case::scaled(input, s.r, s.l, s.c);
                auto after = all(spectrum::solve(changed, spectrum::point(changed, at.name)));
                for (auto& value : after) value *= s.time;
                check_equal(before, after);
            }
        }
    }
}

TEST_CASE("numbering the positions from the other end changes nothing") {
    Generator generator(104);
    for (int k = 0; k < cases; ++k) {
        const Case input = generator.make({2 + k % 5, false, true});
        CAPTURE(k);
        Case turned = input;
        const int n = input.n();
        std::reverse(turned.positions.begin(), turned.positions.end());
        for (auto& bus : turned.buses)
            if (bus) {
                std::reverse(bus->inductance_h.begin(), bus->inductance_h.end());
                std::reverse(bus->resistance_ohm.begin(), bus->resistance_ohm.end());
                bus->feed_at = n + 1 - bus->feed_at;
            }
        for (auto& coupling : turned.couplings)
            for (auto* name : {&coupling.first, &coupling.second})
                if (name->index) name->index = n + 1 - *name->index;
        for (const char* name : {"blocking", "conducting"}) {
            CAPTURE(name);
            check_equal(all(spectrum::solve(input, spectrum::point(input, name))),
                        all(spectrum::solve(turned, spectrum::point(turned, name))));
        }
    }
}

TEST_CASE("a setting equals the edited case, to the last bit") {
    Generator generator(105);
    for (int k = 0; k < cases; ++k) {
        const Case input = generator.raw(traits_of(k, true));
        CAPTURE(k);
        Case edited = input;
        const double base = input.positions.front().gate_path.inductance_h;
        for (auto& p : edited.positions)
            if (p.gate_path.inductance_h == base) p.gate_path.inductance_h = 8.25e-9;  // an override stays
        edited.positions.back().source_path.inductance_h = 2.375e-9;
        edited.power_loop.inductance_h = 13e-9;
        edited.driver.pull_up_resistance_ohm = 1.125;
        std::vector<std::string> settings{
            "gate_path.inductance=8.25 nH",
            "source_path[" + std::to_string(input.n()) + "].inductance=2.375 nH",
            "power_loop.inductance=13 nH", "driver.pull_up_resistance=1.125 ohm"};
        const Case by_setting = read_case_text(write_case(input), "random.yaml", settings);
        const Case by_edit = read_case_text(write_case(edited), "random.yaml");
        for (const char* name : {"blocking", "conducting"}) {
            const auto a = all(spectrum::solve(by_setting, spectrum::point(by_setting, name)));
            const auto b = all(spectrum::solve(by_edit, spectrum::point(by_edit, name)));
            CHECK_SPECTRA(a, b, 0.0);
        }
    }
}
