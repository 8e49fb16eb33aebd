// Candidates for the ends of an uneven layout's windows of the gate resistor, as far as the effort allows.
#pragma once

#include <optional>
#include <vector>

#include "ringquell/acceptable.h"

namespace ringquell {

class UnevenBounds {
  public:
    /// Solves the pencils (pair_pencil.h) of every uneven network among the judged points of the edge, on all
    /// processors. Adds their size, number and time to `out`. `solver` says which points are alike and need
    /// none of this.
    UnevenBounds(const ModeSolver& solver, const std::vector<OperatingPoint>& points, Edge edge,
                 Effort effort, Acceptable& out);

    /// Every value at which a bound can lie at points[index]; empty where that would have cost more than the
    /// effort allows, or A is not affine in the resistance.
    const std::optional<std::vector<double>>& candidates(size_t index) const { return found_[index]; }

  private:
    std::vector<std::optional<std::vector<double>>> found_;  // of each point
};

}  // namespace ringquell
