// What the page's plots are drawn from: sweeps, planes, shapes and the ring.
#include <doctest/doctest.h>

#include <Eigen/Dense>
#include <complex>
#include <numbers>

#include "review/damping_plane.h"
#include "review/gate_sweep.h"
#include "review/mode_shape.h"
#include "ringquell/network.h"
#include "ringquell/read_case.h"
#include "support/relative.h"
#include "test_paths.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

const std::string cases = std::string(RINGQUELL_CASES) + "/";

CheckResult checked(const Case& input) {
    CheckOptions options;
    options.follow_modes = false;
    return check(input, options);
}

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
        const Eigen::VectorXcd x = (s * e - a).partialPivLu().solve(b);
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

TEST_CASE("sweep: each value is what a check of the case with that resistor says") {
    for (const char* name : {"ropeway-first.yaml", "mine-hoist-bus.yaml"}) {
        CAPTURE(name);
        Case input = read_case(cases + name);
        input.operation.path->steps = 4;
        const CheckResult result = checked(input);
        for (const GateSweep& sweep : sweep_gate_resistors(input, result)) {
            CHECK(sweep.points == sweep.points_of_edge);
            REQUIRE(sweep.values.size() > 40);
            CHECK(sweep.values.front().ohm == 0);
            CHECK(sweep.values.back().ohm == input.require.gate_resistance_limit_ohm);
            for (size_t k = 0; k < sweep.values.size(); k += 9) {
                const SweptValue& value = sweep.values[k];
                Case fitted = input;
                fit_gate_resistor(fitted, sweep.edge, value.ohm);
                CheckOptions plain;
                plain.size_gate_resistor = plain.follow_modes = false;
                double differential = 2, common = 2;
                int growing = 0;
                bool passes = true;
                for (const PointResult& r : check(fitted, plain).points) {
                    if (r.point.edge != sweep.edge) continue;
                    for (const Mode& mode : r.modes.modes) {
                        growing += grows(mode);
                        passes = passes && !misses(mode, input.require);
                        if (!mode.oscillates() || !in_band(mode, input.require)) continue;
                        double& least = mode.kind == ModeKind::common ? common : differential;
                        least = std::min(least, mode.damping_ratio());
                    }
                }
                CHECK(value.passes == passes);
                CHECK(value.growing == growing);
                CHECK_RELATIVE(value.differential ? value.differential->damping_ratio : 2.0, differential,
                               1e-9);
                CHECK_RELATIVE(value.common ? value.common->damping_ratio : 2.0, common, 1e-9);
            }
        }
    }
}

TEST_CASE("sweep: at a window's end the least damping is the one that is asked") {
    const Case input = read_case(cases + "ropeway-first.yaml");
    const CheckResult result = checked(input);
    int ends = 0;
    for (const GateSweep& sweep : sweep_gate_resistors(input, result))
        for (const Window& w : result.gate_resistance.at(sweep.edge).acceptable.windows)
            for (const SweptValue& value : sweep.values)
                if (value.ohm == w.low && w.low_bound == Bound::damping) {
                    CHECK_RELATIVE(value.differential->damping_ratio, input.require.differential_damping,
                                   1e-6);
                    ++ends;
                }
    CHECK(ends == 2);
}

#ifndef RINGQUELL_SANITIZED  // minutes there
TEST_CASE("sweep: a large uneven layout is swept at its hardest points, and says so") {
    Case input = read_case(cases + "mine-hoist-bus.yaml");
    while (input.n() < 24) input.positions.push_back(input.positions.front());
    for (auto& bus : input.buses) {
        bus->inductance_h.resize(23, bus->inductance_h.front());
        bus->resistance_ohm.resize(23, bus->resistance_ohm.front());
    }
    input.operation.path->steps = 8;
    CheckOptions options;
    options.follow_modes = options.size_gate_resistor = false;
    CheckResult result = check(input, options);
    EdgeSizing sizing;
    sizing.acceptable.key = "gate_path.resistor";
    sizing.fitted_lowest_ohm = sizing.fitted_highest_ohm = 6.8;
    result.gate_resistance[Edge::turn_off] = sizing;
    const auto sweeps = sweep_gate_resistors(input, result);
    REQUIRE(sweeps.size() == 1);
    CHECK(sweeps[0].points < sweeps[0].points_of_edge);
    CHECK(sweeps[0].points >= 1);
    CHECK(sweeps[0].values.size() >= 8);
    CHECK(std::any_of(sweeps[0].values.begin(), sweeps[0].values.end(),
                      [](const SweptValue& v) { return v.ohm == 6.8; }));
}
#endif

TEST_CASE("plane: its row at the load current is the voltage transfer of the walk") {
    for (const char* name : {"ropeway-first.yaml", "mine-hoist-bus.yaml"}) {
        CAPTURE(name);
        Case input = read_case(cases + name);
        input.operation.path->steps = 16;
        CheckOptions options;
        options.follow_modes = options.size_gate_resistor = false;
        const CheckResult result = check(input, options);
        const auto planes = damping_planes(input, result);
        REQUIRE(planes.size() == 2);
        for (const DampingPlane& plane : planes) {
            CHECK(plane.not_shown.empty());
            REQUIRE(plane.rows.size() == 12);
            const auto& row = plane.rows.back();
            REQUIRE(row.size() == 16);
            size_t k = 0;
            for (const PointResult& r : result.points) {
                if (r.point.edge != plane.edge ||
                    r.point.stage != std::string(edge_name(plane.edge)) + " voltage")
                    continue;
                CHECK_RELATIVE(row[k].vds_v, r.point.vds_v, 1e-12);
                CHECK_RELATIVE(row[k].current_a, r.point.current_a, 1e-12);
                double least = 2;
                for (const Mode& mode : r.modes.modes)
                    if (mode.kind == ModeKind::differential && mode.oscillates() &&
                        in_band(mode, input.require))
                        least = std::min(least, mode.damping_ratio());
                CHECK_RELATIVE(row[k].differential.value_or(2), least, 1e-9);
                ++k;
            }
            CHECK(k == 16);
        }
    }
}

TEST_CASE("plane: a case without bus voltage has none, and says why") {
    Case input = read_case(std::string(RINGQUELL_TEST_DATA) + "/reference/star-4-mosfet.yaml");
    input.operation.bus_voltage_v.reset();
    CheckOptions options;
    options.follow_modes = options.size_gate_resistor = false;
    for (const DampingPlane& plane : damping_planes(input, check(input, options))) {
        CHECK(plane.rows.empty());
        CHECK(plane.not_shown ==
              "the case gives no bus voltage or no load current, so there is no plane to cover");
    }
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
