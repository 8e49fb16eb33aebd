// The baselines: LAPACK on one thread.
#pragma once

#include <Eigen/Core>
#include <string>
#include <vector>

namespace lapack {

/// Holds OpenBLAS to one thread. Returns what it says of itself.
std::string use_one_thread();
/// Eigenvalues of A − λE by dggev, without vectors. Overwrites both. Returns their count, so that nothing is
/// left out.
int dggev(Eigen::MatrixXd& a, Eigen::MatrixXd& e);
/// Eigenvalues of A by dgeev, with right vectors or without. Overwrites A.
int dgeev(Eigen::MatrixXd& a, bool with_vectors);

/// Seconds on a clock that does not go back.
double now_s();
/// The middle one: what else the machine does disturbs it least.
double median(std::vector<double> values);

}  // namespace lapack
