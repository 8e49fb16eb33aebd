// All modes of a point with their eigenvectors in energy coordinates, for following them.
#pragma once

#include <Eigen/Core>
#include <complex>
#include <map>
#include <string>
#include <vector>

#include "network/reducers.h"
#include "numerics/small_eigen.h"
#include "ringquell/modes.h"

namespace ringquell::internal {

struct ModeVector {
    std::complex<double> eigenvalue;  // rad/s, imaginary part >= 0
    ModeKind kind = ModeKind::common;
    bool kind_fixed = false;  // of a block: it can never be another's
    int multiplicity = 1;
    /// Of unit length; coordinate k is the same element's in every vector of one ModeVectors.
    Eigen::VectorXcd energy;
    bool oscillates() const { return eigenvalue.imag() != 0; }
};

/// |u₁ᴴu₂|; vectors of different lengths are padded with zeros.
double overlap(const ModeVector& a, const ModeVector& b);

class ModeVectors {
  public:
    /// Modes within a decade of the band, and all that grow.
    std::vector<ModeVector> at(const Case& input, const OperatingPoint& point);

  private:
    void add(const Case& input, const Network& network, ModeKind kind, bool fixed,
             std::vector<ModeVector>& out);
    std::vector<Eigen::Index> coordinates(const Network& network);

    Reducers reducers_;
    std::map<std::pair<std::string, int>, Eigen::Index> coordinate_of_;
    SmallEigen eigen_;
};

}  // namespace ringquell::internal
