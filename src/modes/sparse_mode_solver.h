// Eigenvalues of a large uneven network in a sector of the plane by shift-invert, with the argument principle as the
// witness that none is missed.
#pragma once

#include <complex>
#include <memory>
#include <vector>

#include "ringquell/network.h"

namespace ringquell::internal {

/// Two results of the Krylov spaces closer than this share of their size are one eigenvalue; whether it is one is for
/// the count to say.
inline constexpr double one_eigenvalue = 1e-7;

/// The region |λ| in (low, high), damping ratio below `damping` (in (−1, 1)): both halves of the plane, with
/// the positive real axis. rad/s.
struct Sector {
    double low = 0, high = 0;
    double damping = 0;
    bool contains(std::complex<double> lambda) const;
};

/// One eigenvalue of a pair, or a real one.
struct SparseMode {
    std::complex<double> eigenvalue;  // rad/s, imaginary part >= 0
    double common_share = 1;
    double gain_feed = 0;  // as Mode's, of every mode
    bool refined = false;  // by inverse iteration to rounding; else to 1e-8 or so
};

struct SectorModes {
    std::vector<SparseMode> modes;  // all within the sector, each as often as it occurs
    long determinants = 0;          // taken along the paths of the argument count
    int counted = 0;                // eigenvalues in the sector by that count; a pair is two
};

/// Works on one network after another; while the pattern of the pencil is the same, its ordering is kept.
/// Memory and the time of a factorisation grow nearly in proportion to the positions. Not for two threads at
/// once.
class SparseModeSolver {
  public:
    explicit SparseModeSolver(int positions);
    ~SparseModeSolver();

    /// The network to work on, which must outlive the calls below.
    void set(const Network& network);
    /// Every eigenvalue in the sector, and the proof: the argument count equals the number found, or
    /// NumericalError. Equal ones are taken apart by kind.
    SectorModes find(const Sector& sector);
    /// Searches where the walk round a sector saw modes outside it, nearest first.
    void look_beside(const Sector& sector);
    /// What came to light beside the sectors asked for so far: modes close to their boundaries.
    std::vector<SparseMode> neighbours() const;
    /// An eigenvalue refined by inverse iteration, as often as it occurs, taken apart by kind.
    std::vector<SparseMode> refine(std::complex<double> eigenvalue);
    /// Numbers in the factors of λE − A, and its size.
    long entries_in_factors() const;
    int unknowns() const;

  private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace ringquell::internal
