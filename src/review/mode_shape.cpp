#include "review/mode_shape.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

#include "modes/along.h"
#include "modes/effort.h"
#include "modes/examine.h"
#include "modes/sensitivity.h"
#include "network/reducer.h"
#include "numerics/decompositions.h"

namespace ringquell::internal {

namespace {

/// The gate-source capacitance of a position (from 1) in a network; a block has one position.
const Element* gate_capacitance(const Network& network, int position) {
    for (const Element& e : network.elements)
        if (e.position == position &&
            (e.name == "device.capacitance.cgs" || e.name == "device.mosfet.capacitance.cgs"))
            return &e;
    return nullptr;
}

ModeShape shape_of_alike(const CheckResult& result, const FoundMode& found) {
    ModeShape out{found.point, found.mode, {}, 0, false};
    const int n = result.positions;
    const bool common = found.mode.kind == ModeKind::common || n == 1;
    out.one_of_many = !common && n > 2;
    double sum = 0;
    for (int k = 1; k <= n; ++k) {
        const double amplitude = common || k == 1 ? 1.0 : -1.0 / (n - 1);
        out.positions.push_back({k, amplitude, amplitude * amplitude});
        sum += amplitude * amplitude;
    }
    for (Phasor& p : out.positions) p.energy_share /= sum;
    return out;
}

std::optional<ModeShape> shape_of(const Case& input, const CheckResult& result, const FoundMode& found) {
    const OperatingPoint& point = result.points[found.point].point;
    const bool alike = result.points[found.point].modes.by_blocks();
    const Network network = network_of(input, point, alike, found.mode.kind);
    const ModeShares shares = mode_shares(network, found.mode.eigenvalue);
    ModeShape out = alike ? shape_of_alike(result, found) : ModeShape{found.point, found.mode, {}, 0, false};
    std::vector<double> energy(static_cast<size_t>(input.n()) + 1);
    for (size_t i = 0; i < network.elements.size(); ++i)
        energy[static_cast<size_t>(network.elements[i].position)] += shares.elements[i].energy_share;
    out.shared_energy = energy[0];
    if (alike) {
        for (Phasor& p : out.positions) p.energy_share *= 1 - out.shared_energy;
        return out;
    }
    std::complex<double> largest = 0;
    for (int k = 1; k <= input.n(); ++k) {
        const Element* cgs = gate_capacitance(network, k);
        if (!cgs) return {};
        out.positions.push_back({k, along(cgs->right, shares.pair.x), energy[static_cast<size_t>(k)]});
        if (std::abs(out.positions.back().amplitude) > std::abs(largest))
            largest = out.positions.back().amplitude;
    }
    if (std::abs(largest) == 0) return {};
    for (Phasor& p : out.positions) p.amplitude /= largest;
    return out;
}

/// One network's answer to a charge on one gate: the voltage of each `output` is Re Σ residue·exp(λt).
struct Response {
    Eigen::VectorXcd lambda;    // 1/ns
    Eigen::MatrixXcd residues;  // a row for each output
    double at(Eigen::Index output, double time_ns) const {
        std::complex<double> sum = 0;
        for (Eigen::Index k = 0; k < lambda.size(); ++k)
            sum += residues(output, k) * std::exp(lambda[k] * time_ns);
        return sum.real();
    }
};

/// A network whose ports are the gates of chips, position (from 1) by position.
Network with_gates(const Case& input, const OperatingPoint& point, Block block,
                   const std::vector<int>& positions) {
    NetworkOptions options;
    options.block = block;
    for (const int k : positions)
        options.ports.emplace_back(fmt::format("gate[{}]", k), fmt::format("source[{}]", k));
    return build_network(input, point, options);
}

/// The voltages of the ports after a charge that takes `disturbed`, the capacitance across the first of them,
/// to 1 V.
Response response(const Network& network, const Element& disturbed, double s0) {
    const Eigen::MatrixXd e = Eigen::MatrixXd(network.e()) * natural, a = Eigen::MatrixXd(network.a());
    const Eigen::VectorXd b = Eigen::MatrixXd(network.b()).col(0) * (disturbed.value * natural);
    const Eigen::MatrixXd shifted = s0 * e - a, m = solve(shifted, e);
    const Eigen::VectorXd v = solve(shifted, b);
    const Eigenpairs eigen = eigenpairs(m);
    // μ = 1/(s₀ − λ): what is this much faster than s₀ is over at once. M² removes it from v, Jordan blocks
    // at μ = 0 included.
    constexpr double instant = 1e-6;
    std::vector<Eigen::Index> kept;
    const double largest = eigen.values.cwiseAbs().maxCoeff();
    for (Eigen::Index k = 0; k < m.rows(); ++k)
        if (std::abs(eigen.values[k]) > instant * largest) kept.push_back(k);
    Eigen::MatrixXcd vectors(m.rows(), static_cast<Eigen::Index>(kept.size()));
    for (size_t k = 0; k < kept.size(); ++k)
        vectors.col(static_cast<Eigen::Index>(k)) = eigen.vectors.col(kept[k]);
    const Eigen::VectorXcd twice = (m * (m * v)).cast<std::complex<double>>();
    const Eigen::VectorXcd share = least_squares(vectors, twice);
    Response out;
    out.lambda.resize(vectors.cols());
    out.residues.resize(static_cast<Eigen::Index>(network.ports.size()), vectors.cols());
    for (size_t k = 0; k < kept.size(); ++k) {
        const auto column = static_cast<Eigen::Index>(k);
        const std::complex<double> mu = eigen.values[kept[k]];
        out.lambda[column] = s0 - 1.0 / mu;
        for (size_t o = 0; o < network.ports.size(); ++o)
            out.residues(static_cast<Eigen::Index>(o), column) =
                share[column] / (mu * mu * mu) * along(network.ports[o].across, vectors.col(column));
    }
    return out;
}

/// Of alike positions: one gate's disturbance is a common one of 1/N and a differential one of the rest.
/// False where the device has no gate-source capacitance.
bool ring_of_alike(const Case& input, const OperatingPoint& point, double s0, Ring& out) {
    const int n = input.n();
    const Network common = with_gates(input, point, Block::common, {1});
    const Element* of_common = gate_capacitance(common, 1);
    if (!of_common) return false;
    const Response together = response(common, *of_common, s0);
    std::optional<Response> against;
    if (n > 1) {
        const Network differential = with_gates(input, point, Block::differential, {1});
        against = response(differential, *gate_capacitance(differential, 1), s0);
    }
    out.modes = static_cast<int>(together.lambda.size() + (against ? against->lambda.size() : 0));
    out.curves.push_back({{1}, {}});
    if (n > 1) {
        out.curves.push_back({{}, {}});
        for (int k = 2; k <= n; ++k) out.curves[1].positions.push_back(k);
    }
    for (const double t : out.time_s) {
        const double c = together.at(0, t / 1e-9) / n, d = against ? against->at(0, t / 1e-9) / n : 0;
        out.curves[0].voltage_v.push_back(c + (n - 1) * d);
        if (n > 1) out.curves[1].voltage_v.push_back(c - d);
    }
    return true;
}

/// Of many curves those that answer most, in the order of positions.
void keep_largest(std::vector<Ring::Curve>& curves) {
    constexpr size_t most_others = 5;
    const auto peak = [](const Ring::Curve& c) {
        return std::abs(*std::max_element(c.voltage_v.begin(), c.voltage_v.end(),
                                          [](double a, double b) { return std::abs(a) < std::abs(b); }));
    };
    std::stable_sort(curves.begin(), curves.end(),
                     [&](const auto& a, const auto& b) { return peak(a) > peak(b); });
    if (curves.size() > most_others) curves.resize(most_others);
    std::sort(curves.begin(), curves.end(),
              [](const auto& a, const auto& b) { return a.positions < b.positions; });
}

/// False where a device has no gate-source capacitance.
bool ring_of_uneven(const Case& input, const OperatingPoint& point, double s0, Ring& out) {
    std::vector<int> order(input.positions.size());
    std::iota(order.begin(), order.end(), 1);
    std::swap(order[0], order[static_cast<size_t>(out.disturbed) - 1]);
    std::sort(order.begin() + 1, order.end());
    const Network network = with_gates(input, point, Block::whole, order);
    if (std::any_of(order.begin(), order.end(), [&](int k) { return !gate_capacitance(network, k); }))
        return false;
    const Response whole = response(network, *gate_capacitance(network, out.disturbed), s0);
    out.modes = static_cast<int>(whole.lambda.size());
    std::vector<Ring::Curve> others;
    for (size_t k = 0; k < order.size(); ++k) {
        Ring::Curve curve{{order[k]}, {}};
        for (const double t : out.time_s)
            curve.voltage_v.push_back(whole.at(static_cast<Eigen::Index>(k), t / 1e-9));
        (k == 0 ? out.curves : others).push_back(std::move(curve));
    }
    keep_largest(others);
    for (Ring::Curve& c : others) out.curves.push_back(std::move(c));
    return true;
}

/// Long enough to see it ring down, or to see it grow; never more periods than a plot can hold.
double duration_s(const Mode& mode) {
    const double period = 1 / mode.ringing_frequency_hz(), sigma = mode.eigenvalue.real();
    const double decayed = 5 / std::max(-sigma, 1e-9 / period);
    if (sigma <= 0) return std::clamp(decayed, 4 * period, 16 * period);
    return std::clamp(std::log(30.0) / sigma, 4 * period, 16 * period);
}

}  // namespace

std::vector<ModeShape> mode_shapes(const Case& input, const CheckResult& result) {
    std::vector<ModeShape> out;
    for (const auto* found : {&result.worst_differential, &result.worst_common})
        if (*found)
            if (auto shape = shape_of(input, result, **found)) out.push_back(std::move(*shape));
    return out;
}

Ring ring_after_disturbance(const Case& input, const CheckResult& result) {
    Ring out;
    const FoundMode* worst = mode_in_question(result);
    if (!worst) {
        out.not_shown = "no mode oscillates in the band";
        return out;
    }
    out.point = worst->point;
    out.disturbed = 1;
    const OperatingPoint& point = result.points[worst->point].point;
    const double s0 = std::abs(worst->mode.eigenvalue) / natural;
    constexpr int samples = 401;
    const double step_s = duration_s(worst->mode) / (samples - 1);
    for (int i = 0; i < samples; ++i) out.time_s.push_back(i * step_s);
    const auto refuse = [&](const char* why) {
        out.time_s.clear();
        out.not_shown = why;
        return out;
    };

    if (result.points[worst->point].modes.by_blocks()) {
        if (ring_of_alike(input, point, s0, out)) return out;
        return refuse("the device has no gate-source capacitance");
    }
    if (build_network(input, point).size() > most_unknowns_dense)
        return refuse(
            "so large an uneven network's modes are not all sought, and the ring is the sum of all");
    // The position that swings most in the worst mode is disturbed.
    if (const auto shape = shape_of(input, result, *worst))
        for (const Phasor& p : shape->positions)
            if (std::abs(p.amplitude) > 1 - 1e-9) out.disturbed = p.position;
    if (ring_of_uneven(input, point, s0, out)) return out;
    return refuse("a device has no gate-source capacitance");
}

}  // namespace ringquell::internal
