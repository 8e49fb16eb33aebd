// Mode shapes, and the ring after a disturbance against the Laplace transform of the whole network.
#include "review/mode_shape.h"

#include <doctest/doctest.h>

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <stdexcept>
#include <vector>

#include "numerics/decompositions.h"
#include "ringquell/network.h"
#include "support/files.h"

using namespace ringquell;
using namespace ringquell::internal;
using namespace test_files;

namespace {

/// f(t) from its Laplace transform by the Euler algorithm of Abate & Whitt, "A Unified Framework for
/// Numerically Inverting Laplace Transforms", INFORMS Journal on Computing 18(4), 2006, section 5 (from
/// memory). Good while t is a few periods of what f holds.
template <class Transform>
double inverse_laplace(const Transform& transform, double t) {
    constexpr int m = 18;
    std::vector<double> xi(2 * m + 1, 1.0);
    xi[0] = 0.5;
    xi[2 * m] = std::pow(2.0, -m);
    double binomial = 1;
    for (int k = 1; k < m; ++k) {
        binomial *= static_cast<double>(m - k + 1) / k;
        xi[static_cast<size_t>(2 * m - k)] =
            xi[static_cast<size_t>(2 * m - k + 1)] + std::pow(2.0, -m) * binomial;
    }
    double sum = 0;
    for (int k = 0; k <= 2 * m; ++k) {
        const std::complex<double> beta(m * std::log(10.0) / 3, std::numbers::pi * k);
        sum +=
            (k % 2 ? -1 : 1) * xi[static_cast<size_t>(k)] * std::complex<double>(transform(beta / t)).real();
    }
    return std::pow(10.0, m / 3.0) / t * sum;
}

/// Gate-source voltages by the transform of the whole network: (sE − A)·X = b.
double gate_voltage(const Network& network, int disturbed, int seen, double time_s) {
    const Eigen::MatrixXcd e = (Eigen::MatrixXd(network.e()) * 1e9).cast<std::complex<double>>();
    const Eigen::MatrixXcd a = Eigen::MatrixXd(network.a()).cast<std::complex<double>>();
    const auto capacitance = [&](int position) {
        for (const Element& x : network.elements)
            if (x.position == position && x.name == "device.capacitance.cgs") return x;
        throw std::logic_error("no gate");
    };
    const Element put = capacitance(disturbed), got = capacitance(seen);
    Eigen::VectorXcd b = Eigen::VectorXcd::Zero(network.size());
    for (const auto& [i, s] : put.left) b[i] += s * put.value * 1e9;
    const auto transform = [&](std::complex<double> s) {
        const Eigen::VectorXcd x = internal::solve(Eigen::MatrixXcd(s * e - a), b);
        std::complex<double> out = 0;
        for (const auto& [i, sign] : got.right) out += sign * x[i];
        return out;
    };
    return inverse_laplace(transform, time_s / 1e-9);
}

}  // namespace

TEST_CASE("the numerical inversion is right for a decaying swing") {
    const auto transform = [](std::complex<double> s) { return 2.0 / ((s + 0.1) * (s + 0.1) + 4.0); };
    for (const double t : {0.5, 2.0, 6.0})
        CHECK(std::abs(inverse_laplace(transform, t) - std::exp(-0.1 * t) * std::sin(2 * t)) < 1e-7);
}

TEST_CASE("shape: alike positions swing as one or against the others, uneven ones as their eigenvector") {
    const Case alike = read_case(cases + "ropeway-first.yaml");
    for (const ModeShape& shape : mode_shapes(alike, checked(alike))) {
        std::complex<double> sum = 0;
        double energy = shape.shared_energy;
        for (const Phasor& p : shape.positions) {
            sum += p.amplitude;
            energy += p.energy_share;
        }
        CHECK(std::abs(energy - 1) < 1e-9);
        CHECK(std::abs(sum - (shape.mode.kind == ModeKind::common ? 4.0 : 0.0)) < 1e-12);
        CHECK(shape.one_of_many == (shape.mode.kind == ModeKind::differential));
    }
    const Case uneven = read_case(cases + "mine-hoist-bus.yaml");
    const CheckResult result = checked(uneven);
    const auto shapes = mode_shapes(uneven, result);
    REQUIRE(shapes.size() == 2);
    for (const ModeShape& shape : shapes) {
        double energy = shape.shared_energy, largest = 0;
        for (const Phasor& p : shape.positions) {
            energy += p.energy_share;
            largest = std::max(largest, std::abs(p.amplitude));
        }
        CHECK(std::abs(energy - 1) < 1e-9);
        CHECK(std::abs(largest - 1) < 1e-12);
        CHECK(!shape.one_of_many);
    }
}

TEST_CASE("ring: the sum of the modes is the inverse transform of the whole network's answer") {
    for (const char* name : {"ropeway-first.yaml", "ropeway-cured.yaml", "mine-hoist-bus.yaml"}) {
        CAPTURE(name);
        Case input = read_case(cases + name);
        input.operation.path->steps = 4;
        const CheckResult result = checked(input);
        const Ring ring = ring_after_disturbance(input, result);
        REQUIRE(ring.not_shown.empty());
        REQUIRE(!ring.curves.empty());
        const Network whole = build_network(input, result.points[ring.point].point);
        for (const size_t sample : {size_t{10}, size_t{40}, size_t{90}})
            for (const Ring::Curve& curve : ring.curves)
                for (const int position : curve.positions) {
                    CAPTURE(sample);
                    CAPTURE(position);
                    CHECK(std::abs(curve.voltage_v[sample] - gate_voltage(whole, ring.disturbed, position,
                                                                          ring.time_s[sample])) < 1e-5);
                }
        CHECK(std::abs(ring.curves[0].voltage_v[0] - 1) < 0.05);
    }
}
