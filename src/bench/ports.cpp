#include "ringquell/ports.h"

#include <fmt/format.h>

#include <Eigen/LU>
#include <algorithm>
#include <numbers>

#include "base/nearest.h"
#include "numerics/sparse_lu.h"
#include "ringquell/error.h"

namespace ringquell {

using namespace internal;

namespace {

Eigen::MatrixXcd impedance(PencilLu& lu, const Eigen::SparseMatrix<double>& b, std::complex<double> s) {
    if (!lu.factor(s))
        throw NumericalError(
            fmt::format("the network has no port impedance at {:.6g} Hz: an eigenvalue lies there",
                        s.imag() / (2 * std::numbers::pi)));
    const Eigen::MatrixXcd into = Eigen::MatrixXd(b).cast<std::complex<double>>();
    Eigen::MatrixXcd x = into;
    for (Eigen::Index k = 0; k < x.cols(); ++k) {
        Eigen::VectorXcd column = x.col(k);
        lu.solve(column);
        x.col(k) = column;
    }
    return into.transpose() * x;
}

}  // namespace

Network network_with_ports(const Case& input, const OperatingPoint& point, const PortNodes& ports,
                           const Place& place, const std::string& key) {
    NetworkOptions options;
    options.ports = ports;
    try {
        return build_network(input, point, options);
    } catch (const InputError& error) {
        const std::vector<std::string> names = node_names(input, point);
        for (const auto& [from, to] : ports)
            for (const std::string& name : {from, to})
                if (std::find(names.begin(), names.end(), name) == names.end() &&
                    std::string(error.what()).find(name) != std::string::npos)
                    throw InputError(
                        place, key,
                        fmt::format("`{}` is no node of this network", name) + suggestion(name, names));
        throw;
    }
}

Eigen::MatrixXcd port_impedance(const Network& network, std::complex<double> s) {
    PencilLu lu(network.e(), network.a());
    return impedance(lu, network.b(), s);
}

Scattering scattering(const Case& input, const OperatingPoint& point, const PortNodes& ports,
                      const std::vector<double>& frequencies_hz) {
    const Network network = network_with_ports(input, point, ports);
    for (const Port& port : network.ports)
        if (port.across.empty())
            throw InputError({}, "--port",
                             fmt::format("`{}` and `{}` are one node of this network", port.from, port.to));
    Scattering out{ports, point.name, 50, frequencies_hz, {}};
    PencilLu lu(network.e(), network.a());
    const Eigen::SparseMatrix<double> b = network.b();
    const auto n = static_cast<Eigen::Index>(ports.size());
    const Eigen::MatrixXcd reference = out.reference_ohm * Eigen::MatrixXcd::Identity(n, n);
    for (const double hz : frequencies_hz) {
        const Eigen::MatrixXcd z = impedance(lu, b, {0, 2 * std::numbers::pi * hz});
        // S·(Z + R) = Z − R
        const Eigen::MatrixXcd right = (z + reference).transpose(), left = (z - reference).transpose();
        out.s.push_back(right.partialPivLu().solve(left).transpose());
    }
    return out;
}

}  // namespace ringquell
