#include "bench/record_model.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "modes/along.h"
#include "modes/sensitivity.h"
#include "numerics/sparse_lu.h"
#include "ringquell/error.h"
#include "ringquell/ports.h"
#include "ringquell/record_points.h"

namespace ringquell::internal {

namespace {

/// A mode further off than this factor in frequency is not asked whether it was recorded.
constexpr double far_off = 4;
/// Step of a central difference, in standard deviations: its error is below 1e-8 of what the rules give.
constexpr double step = 1e-4;

NetworkOptions ports_of(const RecordTarget& target) {
    NetworkOptions options;
    if (!target.record.from.empty()) options.ports = {{target.record.from, target.record.to}};
    return options;
}

}  // namespace

Eigen::Index RecordTarget::rows() const {
    const auto* port = std::get_if<PortData>(&data);
    return port == nullptr ? 2 : 2 * static_cast<Eigen::Index>(port->frequency_hz.size());
}

BoardAt::BoardAt(UnknownCase& board, BenchRecord place, std::optional<Probe> probe)
    : board_(board), place_(std::move(place)) {
    if (probe) probes_.push_back(std::move(*probe));
}

void BoardAt::set(const Eigen::VectorXd& x) {
    board_.set(x);
    board_.input().probes = probes_;
    if (place_.driver_high_impedance) board_.input().driver.pull_down_resistance_ohm = unsupplied_driver_ohm;
}

OperatingPoint BoardAt::point(const Eigen::VectorXd& x) {
    set(x);
    return locate(place_, board_.input());
}

Network BoardAt::network(const Eigen::VectorXd& x) {
    const OperatingPoint there = point(x);
    return build_network(board_.input(), there);
}

Eigen::MatrixXd BoardAt::slopes(const Network& network, const OperatingPoint& point,
                                const Eigen::VectorXd& x) {
    const auto elements = static_cast<Eigen::Index>(network.elements.size());
    Eigen::MatrixXd out = Eigen::MatrixXd::Zero(elements, x.size());
    const NetworkValues values(network, board_.input(), point, NetworkValues::Gains::may_vanish);
    Eigen::VectorXd moved = x;
    Eigen::VectorXd side[2] = {Eigen::VectorXd(elements), Eigen::VectorXd(elements)};
    for (Eigen::Index k = 0; k < x.size(); ++k) {
        bool both = true;
        for (const int up : {0, 1}) {
            moved[k] = x[k] + (up == 1 ? step : -step);
            set(moved);
            const bool anew = board_.unknowns()[static_cast<size_t>(k)].moves_points;
            both = both && values.evaluate(anew ? locate(place_, board_.input()) : point, side[up].data());
        }
        moved[k] = x[k];
        // Where the structure is another on one side (a resistance that reaches zero) nothing is said of it.
        if (both) out.col(k) = (side[1] - side[0]) / (2 * step);
    }
    set(x);
    return out;
}

RecordModel::RecordModel(UnknownCase& board, RecordTarget target)
    : board_(board), target_(std::move(target)), at_(board, target_.record, target_.probe) {}

Network RecordModel::network(const Eigen::VectorXd& x) {
    const OperatingPoint point = at_.point(x);
    return build_network(board_.input(), point, ports_of(target_));
}

std::vector<SeenMode> RecordModel::every_mode(const Eigen::VectorXd& x) {
    const Network all = network(x);
    return finder_.find(all, board_.input().n(), 0, std::numeric_limits<double>::infinity(),
                        target_.ring()->frequency_hz);
}

std::vector<SeenMode> RecordModel::near(const std::vector<SeenMode>& modes) const {
    const double f = target_.ring()->frequency_hz;
    std::vector<SeenMode> out;
    for (const SeenMode& m : modes)
        if (const double ratio = m.mode().ringing_frequency_hz() / f;
            ratio >= 1 / far_off && ratio <= far_off)
            out.push_back(m);
    return out;
}

RecordState RecordModel::at(const Eigen::VectorXd& x, bool with_slopes) {
    const OperatingPoint point = at_.point(x);
    const Network network = build_network(board_.input(), point, ports_of(target_));
    RecordState out;
    Eigen::MatrixXd by_element;
    if (const RingData* data = target_.ring()) {
        ring(network, *data, out);
        if (with_slopes) {
            by_element = mode_slopes(network, out.modes.front().pair);
            by_element.row(0) /= data->log_frequency_error;
            by_element.row(1) /= data->damping_error;
        }
    } else {
        const auto& port = std::get<PortData>(target_.data);
        const PortSlopes found = port_slopes(network, port.frequency_hz, with_slopes);
        const auto n = found.impedance_ohm.size();
        out.residuals.resize(2 * n);
        if (with_slopes) by_element.resize(2 * n, found.slopes.cols());
        for (Eigen::Index k = 0; k < n; ++k) {
            const std::complex<double> measured = port.impedance_ohm[static_cast<size_t>(k)];
            const double error = port.error * std::abs(measured);
            const std::complex<double> r = (found.impedance_ohm[k] - measured) / error;
            out.residuals[2 * k] = r.real();
            out.residuals[2 * k + 1] = r.imag();
            if (!with_slopes) continue;
            by_element.row(2 * k) = found.slopes.row(k).real() / error;
            by_element.row(2 * k + 1) = found.slopes.row(k).imag() / error;
        }
    }
    if (with_slopes) out.slopes = by_element * at_.slopes(network, point, x);
    return out;
}

void RecordModel::ring(const Network& network, const RingData& data, RecordState& out) {
    const double f = data.frequency_hz;
    out.modes = finder_.find(network, board_.input().n(), f / far_off, f * far_off, f);
    if (out.modes.empty())
        throw NumericalError("no mode rings within a factor of four of what `" + target_.record.name +
                             "` shows");
    double greatest = 0;
    for (const SeenMode& m : out.modes) greatest = std::max(greatest, m.view);
    std::vector<std::pair<double, size_t>> order;
    std::vector<Eigen::Vector2d> residuals;
    constexpr double unseen = 1e-12;  // share of the greatest view
    for (size_t k = 0; k < out.modes.size(); ++k) {
        const Mode mode = out.modes[k].mode();
        residuals.emplace_back(std::log(mode.ringing_frequency_hz() / f) / data.log_frequency_error,
                               (mode.damping_ratio() - data.damping_ratio) / data.damping_error);
        const double share = greatest > 0 ? std::max(out.modes[k].view / greatest, unseen) : 1;
        order.emplace_back(residuals[k].squaredNorm() - 2 * std::log(share), k);
    }
    std::stable_sort(order.begin(), order.end(),
                     [](const auto& a, const auto& b) { return a.first < b.first; });
    std::vector<SeenMode> sorted;
    sorted.reserve(order.size());
    for (const auto& [misfit, k] : order) {
        out.misfits.push_back(misfit);
        sorted.push_back(std::move(out.modes[k]));
    }
    out.modes = std::move(sorted);
    out.residuals = residuals[order.front().second];
}

Eigen::MatrixXd mode_slopes(const Network& network, const EigenProbe& pair) {
    Eigen::MatrixXd out(2, static_cast<Eigen::Index>(network.elements.size()));
    for (size_t i = 0; i < network.elements.size(); ++i) {
        const std::complex<double> change = derivative(pair, network.elements[i]);
        out(0, static_cast<Eigen::Index>(i)) = change.imag() / pair.eigenvalue.imag();
        out(1, static_cast<Eigen::Index>(i)) = damping_change(pair.eigenvalue, change);
    }
    return out;
}

PortSlopes port_slopes(const Network& network, const std::vector<double>& frequencies_hz, bool with_slopes) {
    const auto n = static_cast<Eigen::Index>(frequencies_hz.size());
    PortSlopes out;
    out.impedance_ohm.resize(n);
    if (with_slopes) out.slopes.resize(n, static_cast<Eigen::Index>(network.elements.size()));
    PencilLu lu(network.e(), network.a());
    Eigen::VectorXcd b = Eigen::VectorXcd::Zero(network.size());
    for (const auto& [i, sign] : network.ports.front().across) b[i] += sign;
    for (Eigen::Index k = 0; k < n; ++k) {
        const std::complex<double> s(0, 2 * std::numbers::pi * frequencies_hz[static_cast<size_t>(k)]);
        if (!lu.factor(s))
            throw NumericalError("the network has no port impedance: an eigenvalue lies there");
        Eigen::VectorXcd x = b, z = b;
        lu.solve(x);
        out.impedance_ohm[k] = b.dot(x);
        if (!with_slopes) continue;
        lu.solve_adjoint(z);  // (sE − A)ᴴ; b is real, so its conjugate is that of the transpose
        z = z.conjugate().eval();
        for (size_t i = 0; i < network.elements.size(); ++i) {
            const Element& element = network.elements[i];
            std::complex<double> product = along(element.left, z) * along(element.right, x);
            if (element.kind == ElementKind::mutual)
                product += along(element.right, z) * along(element.left, x);
            out.slopes(k, static_cast<Eigen::Index>(i)) = element.in_e() ? -s * product : -product;
        }
    }
    return out;
}

}  // namespace ringquell::internal
