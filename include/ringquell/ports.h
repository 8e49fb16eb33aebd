// What a network analyser would show between nodes of the board: scattering parameters of its linear network.
#pragma once

#include <Eigen/Core>
#include <complex>
#include <string>
#include <utility>
#include <vector>

#include "ringquell/network.h"

namespace ringquell {

/// Pairs of nodes as `check --network` names them: {"gate pin[1]", "Kelvin pin[1]"}.
using PortNodes = std::vector<std::pair<std::string, std::string>>;

/// The board without supply: 0 V at every terminal, 25 degC (or the case's first junction temperature, where its
/// curves do not reach down so far), capacitances at 0 V, MOSFET channels off, the driver an output of its
/// pull-down resistance, the complementary device blocking at 0 V. A JFET, a cascode's too, conducts at 0 V, with the
/// conductance that its curve has there; given by fixed values it is off. Throws InputError as operating_path()
/// does.
OperatingPoint unpowered_point(const Case& input);

/// What an output stage without supply leaves, in place of its pull-down resistance: as good as open beside what is
/// measured.
inline constexpr double unsupplied_driver_ohm = 10e6;

/// The network with a port for each pair. Throws InputError at `place` and `key` where a port names a node that the
/// network has not (with the nearest).
Network network_with_ports(const Case& input, const OperatingPoint& point, const PortNodes& ports,
                           const Place& place = {}, const std::string& key = "--port");

struct Scattering {
    PortNodes ports;
    std::string point;
    double reference_ohm = 50;
    std::vector<double> frequency_hz;
    std::vector<Eigen::MatrixXcd> s;  // N × N at each frequency
};

/// Z(s) = Bᵀ·(sE − A)⁻¹·B in ohm, N × N, of a network that was built with N ports. Throws NumericalError where s is
/// an eigenvalue.
Eigen::MatrixXcd port_impedance(const Network& network, std::complex<double> s);

/// S = (Z − R)·(Z + R)⁻¹ at s = j2πf. Throws InputError where a port names a node that the network has not (with
/// the nearest), or the same one twice.
Scattering scattering(const Case& input, const OperatingPoint& point, const PortNodes& ports,
                      const std::vector<double>& frequencies_hz);

}  // namespace ringquell
