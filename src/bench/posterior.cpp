#include "bench/posterior.h"

#include <algorithm>
#include <cmath>

#include "case/key.h"
#include "numerics/decompositions.h"

namespace ringquell::internal {

namespace {

double error_after(const Eigen::MatrixXd& covariance, Eigen::Index k) {
    return std::sqrt(std::max(covariance(k, k), 0.0));
}

/// A direction's members whose weight is at least this share of the greatest one are named.
constexpr double named = 0.4;
/// A direction that is still known to more than this share of what it was is not worth a line.
constexpr double narrowed_enough = 0.6;
/// So many members may be named; a direction of more is no sum that a reader can use.
constexpr size_t most_members = 4;

struct Member {
    Eigen::Index unknown;
    double weight;
};

std::vector<Member> members(const Eigen::VectorXd& direction) {
    const double greatest = direction.cwiseAbs().maxCoeff();
    std::vector<Member> out;
    for (Eigen::Index k = 0; k < direction.size(); ++k)
        if (std::abs(direction[k]) >= named * greatest) out.push_back({k, direction[k]});
    std::stable_sort(out.begin(), out.end(), [](const Member& a, const Member& b) {
        return std::abs(a.weight) > std::abs(b.weight);
    });
    return out;
}

/// Of Σ ±p over numbers of one dimension, as slopes of x.
Eigen::VectorXd sum_slopes(const UnknownCase& board, const MapFit& fit, const std::vector<Member>& sum) {
    Eigen::VectorXd out = Eigen::VectorXd::Zero(fit.x.size());
    for (const Member& m : sum)
        out[m.unknown] = (m.weight > 0 ? 1 : -1) *
                         board.unknowns()[static_cast<size_t>(m.unknown)].error(fit.x[m.unknown], 1);
    return out;
}

CalibratedCombination described(const UnknownCase& board, const MapFit& fit, std::vector<Member> sum,
                                const Eigen::MatrixXd& covariance) {
    CalibratedCombination out;
    if (sum.front().weight < 0)
        for (Member& m : sum) m.weight = -m.weight;
    const auto unknown = [&](const Member& m) -> const UnknownNumber& {
        return board.unknowns()[static_cast<size_t>(m.unknown)];
    };
    bool one_dimension = true;
    for (const Member& m : sum) {
        (m.weight > 0 ? out.plus : out.minus).push_back(unknown(m).label);
        one_dimension =
            one_dimension && unknown(m).dimension == unknown(sum.front()).dimension && !unknown(m).curve;
    }
    if (!one_dimension) return out;
    out.is_sum = true;
    out.dimension = unknown(sum.front()).dimension;
    for (const Member& m : sum) out.value += (m.weight > 0 ? 1 : -1) * unknown(m).value(fit.x[m.unknown]);
    const Known now = known(sum_slopes(board, fit, sum), covariance);
    out.error = now.after;
    if (sum.size() != 2) return out;
    sum.back().weight = -sum.back().weight;
    const Known opposite = known(sum_slopes(board, fit, sum), covariance);
    out.opposite_narrowed = opposite.after / opposite.before;
    return out;
}

}  // namespace

Known known(const Eigen::VectorXd& slopes, const Eigen::MatrixXd& covariance) {
    return {slopes.norm(), std::sqrt(std::max(slopes.dot(covariance * slopes), 0.0))};
}

double known_with(const Eigen::VectorXd& slopes, const Eigen::MatrixXd& covariance,
                  const Eigen::MatrixXd& measurement) {
    const Eigen::VectorXd along = covariance * slopes;
    const Eigen::VectorXd seen = measurement * along;
    const Eigen::MatrixXd spread = measurement * covariance * measurement.transpose() +
                                   Eigen::MatrixXd::Identity(measurement.rows(), measurement.rows());
    return std::sqrt(std::max(slopes.dot(along) - seen.dot(solve(spread, seen)), 0.0));
}

std::vector<CalibratedUnknown> settled(const UnknownCase& board, const MapFit& fit,
                                       const RecordModels& records) {
    const Eigen::MatrixXd covariance = fit.covariance();
    std::vector<Eigen::MatrixXd> without;
    for (size_t r = 0; r < records.size(); ++r) without.push_back(fit.covariance(r));
    std::vector<CalibratedUnknown> out;
    for (Eigen::Index k = 0; k < board.size(); ++k) {
        const UnknownNumber& u = board.unknowns()[static_cast<size_t>(k)];
        CalibratedUnknown one;
        one.key = u.label;
        one.batch = u.batch;
        one.curve = u.curve;
        one.dimension = u.dimension;
        one.before = u.value(0);
        one.before_error = u.error(0, 1);
        one.after = u.value(fit.x[k]);
        one.narrowed = error_after(covariance, k);
        one.after_error = u.error(fit.x[k], one.narrowed);
        constexpr double wider = 1.1;
        for (size_t r = 0; r < records.size(); ++r)
            if (error_after(without[r], k) > wider * one.narrowed) one.records.push_back(r);
        out.push_back(std::move(one));
    }
    return out;
}

namespace {

/// Two numbers of one dimension whose deviations go together this much are known better by their sum or difference.
constexpr double go_together = 0.4;

bool is_one_number(const std::string& a, const std::string& b) {
    const std::string base = without_position(a);
    return base == without_position(b) && (a == base || b == base);
}

/// The strongest first.
std::vector<CalibratedCombination> pairs_that_go_together(const UnknownCase& board, const MapFit& fit,
                                                          const Eigen::MatrixXd& covariance) {
    struct Pair {
        double correlation;
        Eigen::Index a, b;
    };
    std::vector<Pair> pairs;
    for (Eigen::Index a = 0; a < board.size(); ++a)
        for (Eigen::Index b = a + 1; b < board.size(); ++b) {
            const UnknownNumber& one = board.unknowns()[static_cast<size_t>(a)];
            const UnknownNumber& other = board.unknowns()[static_cast<size_t>(b)];
            // Deviations of one number, at a position and of all together, are no two numbers.
            if (one.curve || other.curve || is_one_number(one.label, other.label)) continue;
            const double correlation = covariance(a, b) / std::sqrt(covariance(a, a) * covariance(b, b));
            if (one.dimension == other.dimension && std::abs(correlation) >= go_together)
                pairs.push_back({correlation, a, b});
        }
    std::stable_sort(pairs.begin(), pairs.end(), [](const Pair& x, const Pair& y) {
        return std::abs(x.correlation) > std::abs(y.correlation);
    });
    std::vector<CalibratedCombination> out;
    for (const Pair& pair : pairs) {
        std::vector<Member> sum{{pair.a, 1}, {pair.b, pair.correlation < 0 ? 1.0 : -1.0}};
        const Known now = known(sum_slopes(board, fit, sum), covariance);
        if (now.after > narrowed_enough * now.before) continue;
        out.push_back(described(board, fit, sum, covariance));
        out.back().narrowed = now.after / now.before;
    }
    return out;
}

}  // namespace

std::vector<CalibratedCombination> combinations(const UnknownCase& board, const MapFit& fit, size_t most) {
    const Eigen::MatrixXd covariance = fit.covariance();
    std::vector<CalibratedCombination> out = pairs_that_go_together(board, fit, covariance);
    out.resize(std::min(out.size(), (most + 1) / 2));
    const HermitianEigenpairs pairs = hermitian_eigenpairs(covariance.cast<std::complex<double>>());
    for (Eigen::Index k = 0; k < pairs.values.size() && out.size() < most;
         ++k) {  // rising: the best known first
        const double narrowed = std::sqrt(std::max(pairs.values[k], 0.0));
        if (narrowed > narrowed_enough) break;
        const std::vector<Member> named_members = members(pairs.vectors.col(k).real());
        if (named_members.size() < 2 || named_members.size() > most_members) continue;
        CalibratedCombination one = described(board, fit, named_members, covariance);
        one.is_sum = false;
        one.narrowed = narrowed;
        out.push_back(std::move(one));
    }
    return out;
}

}  // namespace ringquell::internal
