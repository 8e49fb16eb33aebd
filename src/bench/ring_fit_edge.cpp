// A window that begins before the edge: what rings in it begins later, and no sum of decays from its start is it.
#include <algorithm>
#include <cmath>

#include "bench/ring_fit_parts.h"

namespace ringquell::internal {

namespace {

constexpr Eigen::Index pieces = 64, least_piece = 8;

/// The sample at which the record suddenly swings more, if it does: of pieces of a record of block means, the one whose
/// steps have most more energy than those of the piece before.
std::optional<Eigen::Index> sudden_swing(const Samples& samples, Eigen::Index block) {
    const Eigen::VectorXd means = block_means(samples, block);
    const Eigen::VectorXd steps = means.tail(means.size() - 1) - means.head(means.size() - 1);
    const Eigen::Index length = std::max(least_piece, steps.size() / pieces), count = steps.size() / length;
    constexpr double suddenly = 10;
    double most = suddenly;
    std::optional<Eigen::Index> piece;
    for (Eigen::Index k = 1; k < count; ++k) {
        const double before = steps.segment((k - 1) * length, length).squaredNorm(),
                     here = steps.segment(k * length, length).squaredNorm();
        if (here > most * before) {
            most = before > 0 ? here / before : here / 1e-300;
            piece = k;
        }
    }
    if (!piece) return std::nullopt;
    const auto part = steps.segment(*piece * length, length).cwiseAbs();
    constexpr double large = 0.3;
    const double least = large * part.maxCoeff();
    Eigen::Index at = *piece * length;
    while (std::abs(steps(at)) < least) ++at;
    return (at + 1) * block;
}

/// Whether what rings from a sample on is not there before it: the same terms, fitted anew with a piece of what goes
/// before, miss that piece.
bool begins_at(const Samples& samples, Eigen::Index at, int most_rings) {
    constexpr Eigen::Index least_after = 48, most_after = 16384;
    if (at < least_piece || samples.size() - at < least_after) return false;
    const Eigen::Index after =
        std::min(samples.size() - at, most_after * std::max<Eigen::Index>(1, at / most_after));
    const JointFit fit = find_terms(samples.segment(at, after), most_rings).fit;
    if (rings_of(fit).empty()) return false;
    const Eigen::Index before = std::min({at, after, std::max(least_piece, samples.size() / pieces)});
    const auto both = samples.segment(at - before, before + after);
    const auto joint = fit_terms(both, fit.terms);
    if (!joint) return false;
    double missed = 0;
    for (Eigen::Index n = 0; n < before; ++n)
        missed += std::pow(both(n) - joint->value(static_cast<double>(n)), 2) / static_cast<double>(before);
    // The noise of a sample, and what rounding leaves.
    const double noise = fit.noise() * std::sqrt(static_cast<double>(fit.block));
    constexpr double far_more = 5, rounding = 1e-6;
    return std::sqrt(missed) > far_more * noise + rounding * both.cwiseAbs().maxCoeff();
}

}  // namespace

std::optional<double> edge_within(const Window& window, int most_rings) {
    const Samples samples = window.value;
    constexpr Eigen::Index least_points = 4 * pieces;
    for (Eigen::Index block = 1; block == 1 || samples.size() / block >= least_points; block *= 4) {
        const auto at = sudden_swing(samples, block);
        // A block may hold the edge itself.
        if (at && begins_at(samples, block > 1 ? std::min(*at + block, samples.size()) : *at, most_rings))
            return window.time_s(*at);
    }
    return std::nullopt;
}

}  // namespace ringquell::internal
