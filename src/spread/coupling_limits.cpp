#include "spread/coupling_limits.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <string>

#include "case/coupling_names.h"
#include "ringquell/network.h"

namespace ringquell::internal {

CouplingLimits::CouplingLimits(const Case& input) {
    std::map<std::string, size_t> names;
    const auto segments = [](const InductanceName& name) {
        const CoupledInductance* inductance = coupled_inductance(name.name);
        return inductance && inductance->counts == Counts::segments;
    };
    const auto positional = [&](const InductanceName& name) {
        const CoupledInductance* inductance = coupled_inductance(name.name);
        return segments(name) || (inductance && counts_positions(*inductance, input.driver));
    };
    const double n = input.n();
    for (const Coupling& c : input.couplings) {
        mutuals_ = mutuals_ || c.mutual_h.has_value();
        const size_t a = names.try_emplace(c.first.name, names.size()).first->second;
        const size_t b = names.try_emplace(c.second.name, names.size()).first->second;
        rows_.emplace_back(a, b);
        // How many partners one inductance of the row may have by this coupling.
        const bool pairwise = !c.first.index && !c.second.index && positional(c.first) &&
                              positional(c.second) && segments(c.first) == segments(c.second);
        weights_.emplace_back(pairwise || c.second.index || !positional(c.second) ? 1 : n,
                              pairwise || c.first.index || !positional(c.first) ? 1 : n);
    }
    names_ = names.size();
}

bool CouplingLimits::possible(const Case& sample) const {
    if (rows_.empty()) return true;
    if (!mutuals_) {
        // Diagonally dominant, so positive definite (Gershgorin); else the network's own check decides.
        std::vector<double> sums(names_, 0.0);
        for (size_t c = 0; c < rows_.size(); ++c) {
            const double k = std::abs(*sample.couplings[c].coefficient);
            sums[rows_[c].first] += k * weights_[c].first;
            sums[rows_[c].second] += k * weights_[c].second;
        }
        if (std::all_of(sums.begin(), sums.end(), [](double s) { return s < 0.99; })) return true;
    }
    OperatingPoint point;
    point.devices.resize(1);
    for (const Position& p : sample.positions)
        if (p.leg) point.leg_capacitance_f.assign(sample.positions.size(), 1e-9);
    point.devices[0].mosfet = {1, 1, 1e-9, 1e-9, 1e-9, 0};
    point.devices[0].jfet = point.devices[0].mosfet;
    point.devices[0].gate_resistance_ohm = point.devices[0].jfet_gate_resistance_ohm = 1;
    for (const Edge edge : {Edge::turn_on, Edge::turn_off}) {
        point.edge = edge;
        try {
            build_network(sample, point);
        } catch (const InputError& error) {
            if (error.key().starts_with("couplings[")) return false;
            return true;  // whatever else is wrong is said where the sample is judged
        }
    }
    return true;
}

}  // namespace ringquell::internal
