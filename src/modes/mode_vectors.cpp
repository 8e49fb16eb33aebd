#include "modes/mode_vectors.h"

#include <algorithm>
#include <cmath>

#include "modes/common_share.h"

namespace ringquell::internal {

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

std::vector<Eigen::Index> ModeVectors::coordinates(const Network& network) {
    std::vector<Eigen::Index> out;
    std::map<std::pair<std::string, int>, int> seen;  // parts that share a name, such as a bead's sections
    for_each_amplitude(network, [&](const EnergyAmplitude& a) {
        const Element& e = network.elements[a.element];
        const int repeat = seen[{e.name, e.position}]++;
        const auto fresh = static_cast<Eigen::Index>(coordinate_of_.size());
        out.push_back(
            coordinate_of_.emplace(std::pair{e.name + '#' + std::to_string(repeat), e.position}, fresh)
                .first->second);
    });
    return out;
}

void ModeVectors::add(const Case& input, const Network& network, ModeKind kind, bool fixed,
                      std::vector<ModeVector>& out) {
    constexpr double beyond_band = 10;
    const Reducer& reducer = reducers_.of(network);
    eigen_.compute(reducer.a(), true);
    const std::vector<Eigen::Index> coordinate = coordinates(network);
    const auto near_band = [&](std::complex<double> lambda) {
        const double f = Mode{lambda * natural, kind, 1, 1}.natural_frequency_hz();
        return (f >= input.require.band_low_hz / beyond_band &&
                f <= input.require.band_high_hz * beyond_band) ||
               lambda.real() > 0;
    };
    for (const std::vector<std::complex<double>>& equal : equal_groups(eigen_.eigenvalues())) {
        if (!near_band(equal.front())) continue;
        const auto count = static_cast<int>(equal.size());
        Eigen::MatrixXcd x = eigen_.eigenspace(equal.front(), count);
        Eigen::MatrixXcd whole(network.size(), count);
        for (int k = 0; k < count; ++k) whole.col(k) = reducer.full_vector(equal.front(), x.col(k));
        std::vector<double> share(equal.size(), kind == ModeKind::common ? 1.0 : 0.0);
        if (!fixed && input.n() > 1) {
            SplitModes split = split_by_share(network, whole, input.n());
            whole = std::move(split.x);
            share = std::move(split.share);
        }
        for (int k = 0; k < count; ++k) {
            const size_t at = static_cast<size_t>(k);
            ModeVector v{equal[at] * natural, share[at] < 0.5 ? ModeKind::differential : ModeKind::common,
                         fixed, 1, Eigen::VectorXcd::Zero(static_cast<Eigen::Index>(coordinate_of_.size()))};
            if (fixed && kind == ModeKind::differential) v.multiplicity = input.n() - 1;
            size_t amplitude = 0;
            for_each_amplitude(network, [&](const EnergyAmplitude& a) {
                std::complex<double> sum = 0;
                for (const auto& [i, s] : a.right) sum += s * whole(i, k);
                v.energy[coordinate[amplitude++]] += sum * std::sqrt(a.value(network));
            });
            const double length = v.energy.norm();
            if (length > 0) v.energy /= length;
            out.push_back(std::move(v));
        }
    }
}

}  // namespace ringquell::internal
