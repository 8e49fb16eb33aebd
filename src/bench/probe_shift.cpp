#include <algorithm>
#include <cmath>

#include "network/reducer.h"
#include "numerics/sparse_lu.h"
#include "ringquell/pickup.h"
#include "ringquell/ports.h"

namespace ringquell {

using namespace internal;

namespace {

/// A network with a probe of which only a share is there, and its impedance at the probe's nodes.
class SharedProbe {
  public:
    SharedProbe(const Case& input, const OperatingPoint& point, const Probe& probe) {
        Case probed = input;
        probed.probes = {probe};
        network_ = network_with_ports(probed, point, {{probe.from, probe.to}}, probe.place, "--between");
        for (size_t i = 0; i < network_.elements.size(); ++i) {
            const Element& e = network_.elements[i];
            if (e.name == "probe.capacitance" || e.name == "probe.resistance")
                scaled_.emplace_back(i, e.value);
        }
        b_ = Eigen::VectorXd(network_.b().col(0)).cast<std::complex<double>>();
    }

    /// Capacitance and conductance times `share`.
    void set(double share) {
        for (const auto& [i, whole] : scaled_) {
            Element& e = network_.elements[i];
            // A resistance behind no inductance is stamped as a conductance.
            e.value = e.in_e() || e.kind == ElementKind::conductance ? share * whole : whole / share;
        }
    }

    /// The pole of the impedance Z at the nodes that Newton's iteration of 1/Z reaches from s: modes that are not seen
    /// there are no poles of it. Empty where it strays.
    std::optional<std::complex<double>> pole_from(std::complex<double> s) const {
        const Eigen::SparseMatrix<double> e = network_.e() * natural, a = network_.a();
        PencilLu lu(e, a);
        constexpr int most = 40;
        constexpr double beside = 1e-8, exact = 1e-14, rounding = 1e-9, astray = 0.2;
        const std::complex<double> start = s;
        // Equal modes that are not seen stay where the search begins.
        s *= 1 + beside;
        double before = std::abs(s);
        for (int k = 0; k < most; ++k) {
            factor_beside(lu, s, exact);
            Eigen::VectorXcd x = b_;
            lu.solve(x);
            Eigen::VectorXcd y = e * x;
            lu.solve(y);
            const std::complex<double> z = (b_.transpose() * x)(0), slope = -(b_.transpose() * y)(0);
            const std::complex<double> step = z / slope;
            const double length = std::abs(step), size = std::abs(s);
            if (!std::isfinite(length)) return {};
            // Newton's steps shrink until they are rounding.
            if (length >= before && length <= rounding * size) return s;
            s += step;
            before = length;
            if (length <= exact * size) return s;
            if (std::abs(s - start) > astray * std::abs(start)) return {};
        }
        return {};
    }

  private:
    Network network_;
    std::vector<std::pair<size_t, double>> scaled_;
    Eigen::VectorXcd b_;
};

using Complex = std::complex<double>;

/// Of the share of it, s in 1/ns.
Complex admittance(const Probe& probe, double share, Complex s) {
    const Complex per_s = s * natural;
    const Complex tip =
        share * (per_s * probe.capacitance_f + (probe.resistance_ohm ? 1 / *probe.resistance_ohm : 0));
    return tip / (1.0 + per_s * probe.inductance_h * tip);
}

/// What is near the pole λ of the impedance at the probe's nodes: r/(s − λ) and what hardly changes there.
struct NearPole {
    Complex lambda, residue, rest;
    /// Of 1 + Y·Z = 0.
    Complex shift(const Probe& probe, double share) const {
        const Complex y = admittance(probe, share, lambda);
        return -y * residue / (1.0 + y * rest);
    }
};

/// From two places beside it, on either side, where both parts are known well.
NearPole near_pole(const Case& input, const OperatingPoint& point, const Probe& probe, Complex lambda) {
    constexpr double beside = 1e-6;
    const Network bare = network_with_ports(input, point, {{probe.from, probe.to}}, probe.place, "--between");
    const Complex there = port_impedance(bare, lambda * (1 + beside) * natural)(0, 0),
                  here = port_impedance(bare, lambda * (1 - beside) * natural)(0, 0);
    return {lambda, (there - here) / 2.0 * (beside * lambda), (there + here) / 2.0};
}

}  // namespace

std::optional<std::complex<double>> eigenvalue_with_probe(const Case& input, const OperatingPoint& point,
                                                          const Probe& probe,
                                                          std::complex<double> eigenvalue) {
    if (!probe.stands()) return eigenvalue;
    const NearPole start = near_pole(input, point, probe, eigenvalue / natural);
    const double size = std::abs(start.lambda);
    // What moves so little moves in proportion, and a search would find its neighbours.
    constexpr double little = 1e-6;
    if (const Complex shift = start.shift(probe, 1); std::abs(shift) <= little * size)
        return (start.lambda + shift) * natural;
    SharedProbe network(input, point, probe);
    constexpr double first_step = 0.125, least_step = 1e-4, far = 0.01;
    Complex before = start.lambda, here = before;
    double share_before = 0, share_here = 0, part = 0, step = first_step;
    while (part < 1) {
        const double next = std::min(1.0, part + step), share = next * next;
        // Along the line through the last two, since what shifts does so nearly in proportion.
        Complex guess = here;
        double most = far * size;
        if (part > 0) {
            guess += (here - before) * ((share - share_here) / (share_here - share_before));
        } else {
            guess += start.shift(probe, share);
            most = std::min(most, std::abs(guess - here));
        }
        network.set(share);
        const auto found = network.pole_from(guess);
        // So far from the guess it may be another mode.
        if (!found || std::abs(*found - guess) > most) {
            step /= 2;
            if (step < least_step) return {};
            continue;
        }
        before = here;
        share_before = share_here;
        here = *found;
        share_here = share;
        part = next;
    }
    return here * natural;
}

}  // namespace ringquell
