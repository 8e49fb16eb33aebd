#include "bench/seen_modes.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "modes/along.h"
#include "modes/common_share.h"
#include "numerics/shift_invert.h"
#include "numerics/small_eigen.h"
#include "numerics/units.h"

namespace ringquell::internal {

namespace {

/// With more unknowns than this the whole spectrum costs more than the modes next to what was measured.
constexpr int large = 400;
constexpr int next_to_it = 40;

/// Im λ above this share of |λ| is a ring.
constexpr double rings = 1e-6;

Eigen::VectorXcd across(const Network& network) {
    Eigen::VectorXcd b = Eigen::VectorXcd::Zero(network.size());
    if (!network.ports.empty())
        for (const auto& [i, sign] : network.ports.front().across) b[i] += sign;
    return b;
}

}  // namespace

Mode SeenMode::mode() const {
    Mode out;
    out.eigenvalue = pair.eigenvalue;
    out.kind = common_share < 0.5 ? ModeKind::differential : ModeKind::common;
    out.common_share = common_share;
    out.multiplicity = multiplicity;
    return out;
}

std::vector<std::vector<std::complex<double>>> ModeFinder::eigenvalues(const Network& network,
                                                                       double around_hz) {
    std::vector<std::complex<double>> found;
    if (network.size() <= large) {
        SmallEigen eigen;
        eigen.compute(reducers_.of(network).a(), false);
        found = eigen.eigenvalues();
    } else {
        const Eigen::SparseMatrix<double> e = network.e() * natural;
        PencilLu lu(e, network.a());
        const std::complex<double> shift(0, 2 * std::numbers::pi * around_hz / natural);
        for (const RitzPair& pair : shift_invert(lu, e, shift, next_to_it)) found.push_back(pair.lambda);
    }
    return equal_groups(found);
}

std::vector<SeenMode> ModeFinder::find(const Network& network, int positions, double low_hz, double high_hz,
                                       double around_hz) {
    std::vector<SeenMode> out;
    const Eigen::VectorXcd b = across(network);
    const Eigen::SparseMatrix<double> e = network.e();
    for (const auto& equal : eigenvalues(network, around_hz)) {
        const std::complex<double> lambda = equal.front() * natural;
        const double hz = lambda.imag() / (2 * std::numbers::pi);
        if (lambda.imag() < rings * std::abs(lambda) || hz < low_hz || hz > high_hz) continue;
        SeenMode mode;
        mode.multiplicity = static_cast<int>(equal.size());
        const bool driven = mode.multiplicity > 1 && !b.isZero();
        mode.pair = driven ? probe_from(network, lambda, b) : probe(network, lambda);
        const Eigen::VectorXcd& x = mode.pair.x;
        mode.common_share = common_share(network, x, positions);
        if (!network.ports.empty())
            mode.view = std::abs(along(network.ports.front().across, x)) /
                        std::sqrt(std::abs(x.dot(Eigen::VectorXcd(e * x))));
        out.push_back(std::move(mode));
    }
    return out;
}

}  // namespace ringquell::internal
