// Could the inductances of a sample be those of a layout?
#pragma once

#include <utility>
#include <vector>

#include "ringquell/case.h"

namespace ringquell::internal {

/// Could the inductances of this sample be those of a layout? False where its couplings share more flux than
/// there is.
class CouplingLimits {
  public:
    explicit CouplingLimits(const Case& input);
    bool possible(const Case& sample) const;

  private:
    std::vector<std::pair<size_t, size_t>> rows_;  // of each coupling, the two inductances it joins
    std::vector<std::pair<double, double>> weights_;
    size_t names_ = 0;
    bool mutuals_ = false;
};

}  // namespace ringquell::internal
