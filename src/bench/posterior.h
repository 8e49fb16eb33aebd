// What the records settled, unknown by unknown and in combinations, and what they leave open.
#pragma once

#include <vector>

#include "bench/map_fit.h"
#include "ringquell/calibration.h"

namespace ringquell::internal {

std::vector<CalibratedUnknown> settled(const UnknownCase& board, const MapFit& fit,
                                       const RecordModels& records);

/// Directions of x that the records narrow most, those of their members that count most; of at most `most` directions.
std::vector<CalibratedCombination> combinations(const UnknownCase& board, const MapFit& fit, size_t most);

/// Of a number that follows x by these slopes: its standard deviation before and after.
struct Known {
    double before = 0, after = 0;
};
Known known(const Eigen::VectorXd& slopes, const Eigen::MatrixXd& covariance);

/// The same after one more measurement with these slopes (residuals over their errors × unknowns).
double known_with(const Eigen::VectorXd& slopes, const Eigen::MatrixXd& covariance,
                  const Eigen::MatrixXd& measurement);

}  // namespace ringquell::internal
