#include "review/calibrated_case.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "case/sample_space.h"
#include "ringquell/error.h"

namespace ringquell::internal {

namespace {

/// An unknown whose standard deviation is still this share of what it was keeps its tolerance.
constexpr double not_narrowed = 0.98;
/// A correlation weaker than this is left out, where what is left still has a joint distribution.
constexpr double uncorrelated = 0.02;
/// A normal tolerance is three standard deviations, and stays this far from zero.
constexpr double deviations = 3, most_of_value = 0.9;

Tolerance narrowed_tolerance(const UnknownNumber& unknown, double x, double deviation) {
    Tolerance out;
    out.key = unknown.label;
    out.vary = unknown.batch ? Vary::batch : Vary::position;
    out.distribution = Distribution::normal;
    if (unknown.logarithmic) {
        out.relative = true;
        out.amount = std::min(deviations * deviation * unknown.deviation, most_of_value);
    } else {
        out.amount = deviations * unknown.error(x, deviation);
    }
    return out;
}

bool can_be_drawn(const Case& input) {
    if (input.spread.empty()) return true;
    try {
        SampleSpace{input};
        return true;
    } catch (const InputError&) {
        return false;
    }
}

}  // namespace

Case calibrated_case(const Case& before, UnknownCase& board, const MapFit& fit) {
    const Eigen::MatrixXd covariance = fit.covariance();
    const auto deviation = [&](Eigen::Index k) { return std::sqrt(std::max(covariance(k, k), 0.0)); };
    board.set(fit.x);
    Case out = board.input();
    out.spread.clear();
    // A tolerance of which no unknown was narrowed or moved stands as it did: its numbers moved with others' at most.
    std::map<size_t, bool> stands;
    for (Eigen::Index k = 0; k < board.size(); ++k) {
        const auto [at, fresh] = stands.emplace(board.unknowns()[static_cast<size_t>(k)].tolerance, true);
        at->second = at->second && deviation(k) > not_narrowed;
    }
    for (size_t t = 0; t < before.spread.size(); ++t)
        if (const auto at = stands.find(t); at == stands.end() || at->second)
            out.spread.push_back(before.spread[t]);
    const std::vector<Tolerance> standing = out.spread;
    const auto narrow = [&](double least) {
        out.spread = standing;
        std::vector<Eigen::Index> written;
        for (Eigen::Index k = 0; k < board.size(); ++k) {
            const UnknownNumber& unknown = board.unknowns()[static_cast<size_t>(k)];
            if (stands.at(unknown.tolerance)) continue;
            Tolerance tolerance = narrowed_tolerance(unknown, fit.x[k], deviation(k));
            for (const Eigen::Index other : written) {
                const double coefficient = covariance(k, other) / (deviation(k) * deviation(other));
                if (std::abs(coefficient) >= least)
                    tolerance.correlations.push_back(
                        {board.unknowns()[static_cast<size_t>(other)].label, coefficient, {}});
            }
            written.push_back(k);
            out.spread.push_back(std::move(tolerance));
        }
    };
    narrow(uncorrelated);
    if (!can_be_drawn(out)) narrow(0);
    return out;
}

}  // namespace ringquell::internal
