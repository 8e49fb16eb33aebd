// Where an iteration starts: in no direction that a circuit could prefer.
#pragma once

#include <cstdint>

namespace ringquell::internal {

/// Numbers without symmetry in (−1, 1), the same on every machine.
class Scatter {
  public:
    double next() {
        state_ = state_ * 6364136223846793005ULL + 1442695040888963407ULL;
        return static_cast<double>(state_ >> 11) * 0x1p-52 - 1;
    }

  private:
    std::uint64_t state_ = 20240229;
};

}  // namespace ringquell::internal
