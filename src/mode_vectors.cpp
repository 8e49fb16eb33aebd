#include "mode_vectors.h"

#include <algorithm>
#include <cmath>

#include "common_share.h"

namespace ringquell {

double overlap(const ModeVector& a, const ModeVector& b) {
    const Eigen::Index n = std::min(a.energy.size(), b.energy.size());
    return std::abs(a.energy.head(n).dot(b.energy.head(n)));
}

std::vector<ModeVector> ModeVectors::at(const Case& input, const OperatingPoint& point) {
    std::vector<ModeVector> out;
    if (point.devices.size() <= 1 && positions_alike(input, point)) {
        add(input, build_network(input, point, {Block::common, false}), ModeKind::common, true, out);
        if (input.n() > 1)
            add(input, build_network(input, point, {Block::differential, false}), ModeKind::differential,
                true, out);
    } else {
        add(input, build_network(input, point), ModeKind::common, false, out);
    }
    return out;
}

Reducer& ModeVectors::reduced(const Network& network) {
    constexpr size_t most = 16;
    for (auto it = reducers_.rbegin(); it != reducers_.rend(); ++it)
        if ((*it)->fits(network)) {
            (*it)->evaluate(network);
            return **it;
        }
    if (reducers_.size() >= most) reducers_.erase(reducers_.begin());
    reducers_.push_back(std::make_unique<Reducer>(network));
    reducers_.back()->evaluate(network);
    return *reducers_.back();
}

std::vector<Eigen::Index> ModeVectors::coordinates(const Network& network) {
    std::vector<Eigen::Index> out;
    std::map<std::pair<std::string, int>, int> seen;  // parts that share a name, such as a bead's sections
    for (const Element& e : network.elements) {
        if (e.kind != ElementKind::capacitance && e.kind != ElementKind::inductance) {
            out.push_back(-1);
            continue;
        }
        const int repeat = seen[{e.name, e.position}]++;
        const auto fresh = static_cast<Eigen::Index>(coordinate_of_.size());
        out.push_back(
            coordinate_of_.emplace(std::pair{e.name + '#' + std::to_string(repeat), e.position}, fresh)
                .first->second);
    }
    return out;
}

void ModeVectors::add(const Case& input, const Network& network, ModeKind kind, bool fixed,
                      std::vector<ModeVector>& out) {
    constexpr double beyond_band = 10, real_pair = 1e-6;  // as modes.cpp: this close to the axis it is real
    const Reducer& reducer = reduced(network);
    eigen_.compute(reducer.a(), true);
    const std::vector<Eigen::Index> coordinate = coordinates(network);
    for (std::complex<double> lambda : eigen_.eigenvalues()) {
        const std::complex<double> computed = lambda;
        if (std::abs(lambda.imag()) <= real_pair * std::abs(lambda)) lambda.imag(0);
        if (lambda.imag() < 0) continue;
        const Mode mode{lambda * natural, kind, 1, 1};
        const double f = mode.natural_frequency_hz();
        const bool near_band =
            f >= input.require.band_low_hz / beyond_band && f <= input.require.band_high_hz * beyond_band;
        if (!near_band && lambda.real() <= 0) continue;
        ModeVector v{mode.eigenvalue, kind, fixed, 1,
                     Eigen::VectorXcd::Zero(static_cast<Eigen::Index>(coordinate_of_.size()))};
        if (fixed && kind == ModeKind::differential) v.multiplicity = input.n() - 1;
        const Eigen::VectorXcd x = reducer.full_vector(lambda, eigen_.eigenvector(computed));
        for (size_t k = 0; k < network.elements.size(); ++k) {
            if (coordinate[k] < 0) continue;
            std::complex<double> amplitude = 0;
            for (const auto& [i, s] : network.elements[k].right) amplitude += s * x[i];
            v.energy[coordinate[k]] += amplitude * std::sqrt(network.elements[k].value);
        }
        const double length = v.energy.norm();
        if (length > 0) v.energy /= length;
        if (!fixed && input.n() > 1)
            v.kind = common_share(network, x, input.n()) < 0.5 ? ModeKind::differential : ModeKind::common;
        out.push_back(std::move(v));
    }
}

}  // namespace ringquell
