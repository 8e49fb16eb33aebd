// From the pencil of a network to the minimal explicit form dx/dt = A·x with named states.
#pragma once

#include <Eigen/Core>
#include <string>
#include <vector>

#include "ringquell/network.h"

namespace ringquell {

/// Beyond this condition number of what was inverted, sixteen digits leave no trustworthy damping.
inline constexpr double largest_condition = 1e12;

struct StateSpace {
    Eigen::MatrixXd a;                // 1/s; structural zeros included
    std::vector<std::string> states;  // what each row of x is, V or A
    int structural_zeros = 0;         // eigenvalues that are zero by topology
    double condition = 1;             // of the scaled E that was inverted
};

/// The explicit form of one network.
StateSpace state_space(const Network& network);

}  // namespace ringquell
