// The modes that ring between two nodes, and how strongly they show there.
#pragma once

#include <vector>

#include "modes/probe.h"
#include "network/reducers.h"
#include "ringquell/modes.h"

namespace ringquell::internal {

struct SeenMode {
    /// Of m equal eigenvalues the pair of vectors that a current between the nodes drives: x is then the sum of the
    /// residue's columns, and every other combination has a zero there.
    EigenProbe pair;
    int multiplicity = 1;
    double common_share = 1;
    /// |bᵀx| for a mode of unit energy (xᴴEx = 1), V/√J, b the two nodes; 1 where no nodes are named.
    double view = 1;

    /// As `modes` of a check have it.
    Mode mode() const;
};

/// Works on one network after another; keeps the eliminations that it has recorded.
class ModeFinder {
  public:
    /// The oscillating modes with a ringing frequency from `low_hz` to `high_hz`. The nodes are the first of the
    /// network's ports. Of a large network those nearest to `around_hz` alone.
    std::vector<SeenMode> find(const Network& network, int positions, double low_hz, double high_hz,
                               double around_hz);

  private:
    std::vector<std::vector<std::complex<double>>> eigenvalues(const Network& network, double around_hz);
    Reducers reducers_;
};

}  // namespace ringquell::internal
