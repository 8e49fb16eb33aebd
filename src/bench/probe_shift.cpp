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

}  // namespace

std::optional<std::complex<double>> eigenvalue_with_probe(const Case& input, const OperatingPoint& point,
                                                          const Probe& probe,
                                                          std::complex<double> eigenvalue) {
    if (!probe.stands()) return eigenvalue;
    SharedProbe network(input, point, probe);
    constexpr int steps = 8;
    std::complex<double> before = eigenvalue / natural, here = before;
    double share_before = 0, share_here = 0;
    for (int k = 1; k <= steps; ++k) {
        const double part = k / static_cast<double>(steps), share = part * part;
        // Along the line through the last two, since what shifts does so nearly in proportion.
        std::complex<double> guess = here;
        if (k > 1) guess += (here - before) * ((share - share_here) / (share_here - share_before));
        network.set(share);
        const auto found = network.pole_from(guess);
        if (!found) return {};
        before = here;
        share_before = share_here;
        here = *found;
        share_here = share;
    }
    return here * natural;
}

}  // namespace ringquell
