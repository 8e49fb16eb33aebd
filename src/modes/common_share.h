// How alike the positions move in a mode, and in modes that share one eigenvalue.
#pragma once

#include <Eigen/Core>
#include <algorithm>
#include <vector>

#include "ringquell/network.h"

namespace ringquell::internal {

/// One √C·v or √L·i: √value·(right·x), whose squares add up to xᴴEx where nothing but a choke couples
/// inductances. Its value is scale·(that of `element`) − less_scale·(that of `less`).
struct EnergyAmplitude {
    size_t element = 0;
    int position = 0;  // from 1; 0 for shared parts
    int slot = 0;      // equal for the same amplitude of all positions
    double scale = 1;
    int less = -1;  // an element, or none
    double less_scale = 0;
    Incidence right;

    double value(const Network& network) const {
        const double own = scale * network.elements[element].value;
        if (less < 0) return own;
        return std::max(0.0, own - less_scale * network.elements[static_cast<size_t>(less)].value);
    }
};

/// Calls visit(const EnergyAmplitude&) for every capacitance and inductance of the network. A choke has two:
/// √(leakage)·(i_gate + i_kelvin)/2 and √(inductance − leakage/4)·(i_gate − i_kelvin), its whole energy.
/// Other mutual inductances count with neither of the branches that they couple.
template <class Visit>
void for_each_amplitude(const Network& network, const Visit& visit) {
    const auto is_leakage = [&](size_t i) {
        return i < network.elements.size() && network.elements[i].is_leakage();
    };
    EnergyAmplitude out;
    for (size_t i = 0; i < network.elements.size(); ++i) {
        const Element& e = network.elements[i];
        if (e.kind != ElementKind::capacitance && e.kind != ElementKind::inductance) continue;
        out.element = i;
        out.position = e.position;
        out.slot = e.slot;
        out.scale = 1;
        out.less = -1;
        out.less_scale = 0;
        out.right = e.right;
        // The winding difference has two currents; its leakage (stamped as half of it, mutual) stands behind.
        const bool leaks = e.kind == ElementKind::inductance && e.right.size() == 2 && is_leakage(i + 1);
        if (leaks) {
            out.less = static_cast<int>(i + 1);
            out.less_scale = 0.5;
        }
        visit(static_cast<const EnergyAmplitude&>(out));
        if (!leaks) continue;
        const Element& leakage = network.elements[i + 1];
        out.element = i + 1;
        out.slot = leakage.slot;
        out.scale = 0.5;
        out.less = -1;
        out.right = {leakage.left.front(), leakage.right.front()};
        visit(static_cast<const EnergyAmplitude&>(out));
    }
}

/// Common share of an eigenvector x (all unknowns of the network, any scale): |Σ x_i|²/(N·Σ|x_i|²), x_i the
/// list of √C·v and √L·i of position i, N = `positions`. 0/0 is 1.
double common_share(const Network& network, const Eigen::VectorXcd& x, int positions);

/// Modes that share one eigenvalue, taken apart by kind: any basis of their vectors is as good as another,
/// but |Σ x_i|²/N against Σ|x_i|² are two Hermitian forms on it, whose common eigenvectors have shares that
/// no choice of basis moves.
struct SplitModes {
    Eigen::MatrixXcd x;         // columns: a basis of the same space
    std::vector<double> share;  // of each column, rising
};
/// `x`: columns of all unknowns, independent of each other.
SplitModes split_by_share(const Network& network, const Eigen::MatrixXcd& x, int positions);

}  // namespace ringquell::internal
