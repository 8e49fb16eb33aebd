// What to measure next, so that the damping at the worst point is known better.
#pragma once

#include <vector>

#include "bench/posterior.h"

namespace ringquell::internal {

/// dζ/dx of a mode at a point of the path, with the board at x. Empty: the mode is not found there.
std::optional<Eigen::VectorXd> damping_slopes(UnknownCase& board, const std::string& point, const Mode& mode,
                                              const Eigen::VectorXd& x);

/// What the least differential damping at a point of the path may be, x being normal with this mean and covariance:
/// so many samples, the same on every machine, rising. Boards that cannot be are left out.
std::vector<double> sampled_damping(UnknownCase& board, const std::string& point, const Eigen::VectorXd& mean,
                                    const Eigen::MatrixXd& covariance, int samples);

/// How far the least differential damping at a point is known before anything was measured: of samples of the prior.
Calibration::WorstKnown known_before(UnknownCase& board, const std::string& point);
/// And at a fit. Samples of the normal posterior say how it is skewed where modes change places, but where wide directions
/// bend they lie beside what the records allow; so their range is set around the value at x, and is at least that
/// of the slopes there.
Calibration::WorstKnown known_after(UnknownCase& board, const std::string& point, const Eigen::VectorXd& x,
                                    const Eigen::MatrixXd& covariance);

struct MeasurementQuestion {
    UnknownCase& board;
    const BenchFile& bench;
    const Eigen::VectorXd& x;
    const Eigen::MatrixXd& covariance;
    const Eigen::VectorXd& slopes;  // of what is to be known
};

/// Rings at points of the path with each probe of the bench (without one: an ideal probe across the gate pins of two
/// positions), and impedances of pairs of pins of the unpowered board. The five after which least is left open, the
/// measurement without voltage before one with it that tells at most a tenth more.
std::vector<NextMeasurement> next_measurements(const MeasurementQuestion& question);

}  // namespace ringquell::internal
