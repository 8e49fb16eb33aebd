// Candidates for the ends of an uneven layout's windows of the gate resistor, as far as the effort allows.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/acceptable.h"

namespace ringquell::internal {

class UnevenBounds {
  public:
    /// Solves the pencils (pair_pencil.h) of every uneven network among the judged points of the edge, on all
    /// processors. Adds their size, number and time to `out`. `solver` says which points are alike and need
    /// none of this. Points whose beads' bias moves with the resistor are left out: A is not affine there.
    UnevenBounds(const ModeSolver& solver, const std::vector<OperatingPoint>& points, Edge edge,
                 Effort effort, Acceptable& out);

    /// Every value at which a bound can lie at points[index]; empty where that would have cost more than the
    /// effort allows, A is not affine in the resistance, or the numbers failed: why_not() says which.
    const std::optional<std::vector<double>>& candidates(size_t index) const { return found_[index]; }
    const std::string& why_not(size_t index) const { return why_not_[index]; }

  private:
    void solve(const Case& input, const std::vector<OperatingPoint>& points, size_t index);

    std::vector<std::optional<std::vector<double>>> found_;  // of each point
    std::vector<std::string> why_not_;
};

}  // namespace ringquell::internal
