// Which values of the unknowns explain the records: the greatest posterior, and how far it is known.
//
// The least of Σ residual² + |x|² (+ 2·ln(greatest view/view) for the modes that rings are taken for): Gauss and
// Newton's steps under Levenberg and Marquardt's control. Around it the posterior is taken as normal (Laplace), with
// covariance (JᵀJ + I)⁻¹.
#pragma once

#include <Eigen/Core>
#include <cstdint>
#include <optional>
#include <random>
#include <vector>

#include "bench/record_model.h"

namespace ringquell::internal {

/// Independent standard normal numbers, the same on every machine: sums of twelve uniform ones.
class NormalDraws {
  public:
    explicit NormalDraws(std::uint64_t seed) : random_(seed) {}
    double next() {
        double sum = -6;
        for (int i = 0; i < 12; ++i) sum += static_cast<double>(random_() >> 11) * 0x1p-53;
        return sum;
    }
    Eigen::VectorXd next(Eigen::Index n, double deviation) {
        Eigen::VectorXd out(n);
        for (Eigen::Index k = 0; k < n; ++k) out[k] = deviation * next();
        return out;
    }

  private:
    std::mt19937_64 random_;
};

using RecordModels = std::vector<RecordModel>;

struct MapFit {
    Eigen::VectorXd x;
    double cost = 0;
    std::vector<RecordState> records;  // at x, with slopes
    bool converged = false;
    /// Of x, from the slopes of these records and the prior; `without` (an index) leaves one out.
    Eigen::MatrixXd covariance(std::optional<size_t> without = {}) const;
};

/// From one start. Empty where the records have no model there.
std::optional<MapFit> fit_from(RecordModels& records, const Eigen::VectorXd& start);

struct MapFits {
    MapFit best;
    /// Other minima, apart from the best by more than a standard deviation, that are at most this much dearer.
    static constexpr double nearly_as_good = 6;
    std::vector<MapFit> others;
};
/// From the prior's mean (a little beside it: alike boards have equal modes there), from `starts`, and from a few
/// places drawn from the prior. Throws NumericalError where no start has a model.
MapFits fit_map(RecordModels& records, Eigen::Index unknowns, const std::vector<Eigen::VectorXd>& starts);

}  // namespace ringquell::internal
