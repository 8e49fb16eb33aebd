// How a mode, or what equal modes share, shows at the nodes of the whole board.
#pragma once

#include <Eigen/Core>
#include <complex>
#include <map>
#include <string>
#include <vector>

#include "ringquell/modes.h"
#include "ringquell/network.h"

namespace ringquell::internal {

/// `gate[2]`, `JFET source[1]`: a node of a chip.
bool is_of_chip(const std::string& node);

/// Nodes that a probe can touch: pins, taps and rails, not the chips' own; of merged ones one.
std::vector<std::string> accessible_nodes(const Case& input, const OperatingPoint& point);

/// The vectors of one eigenvalue by coordinates in which energy is a sum of squares: of alike positions, their
/// amplitudes (which sum to zero where the mode is differential), else a basis of the eigenspace. What is seen of a
/// vector is linear in its coordinates: Σ seen_k·a_k.
class ModeViews {
  public:
    /// `nodes`: all that seen() will be asked for. Throws InputError where one is not there.
    ModeViews(const Case& input, const OperatingPoint& point, const Mode& mode, bool by_blocks,
              const std::vector<std::string>& nodes);

    /// v(from) − v(to).
    Eigen::VectorXcd seen(const std::string& from, const std::string& to) const;
    /// The coordinates that this is seen best of, of all with the same energy; zero where nothing is seen.
    Eigen::VectorXcd best(const Eigen::VectorXcd& seen) const;
    /// The swing of the position that can swing most; of alike ones position 1 against the others.
    Eigen::VectorXcd usual() const;
    /// Gate to source of every chip.
    Eigen::VectorXcd chips(const Eigen::VectorXcd& coordinates) const;
    /// More than one vector.
    bool many() const { return coordinates_ > 1 + (sum_is_zero_ ? 1 : 0); }

  private:
    void solve_block(const Case& input, const OperatingPoint& point, const Mode& mode,
                     const std::vector<std::string>& nodes);
    void solve_whole(const Case& input, const OperatingPoint& point, const Mode& mode,
                     const std::vector<std::string>& nodes);
    Eigen::VectorXcd potential(const std::string& node) const;

    int positions_;
    Eigen::Index coordinates_ = 1;
    bool sum_is_zero_ = false;
    std::map<std::string, Eigen::VectorXcd> potentials_;  // of the whole network
    struct OfBlock {
        size_t position;  // from 1; 0: shared
        std::complex<double> potential;
    };
    std::map<std::string, OfBlock> of_block_;
    Eigen::MatrixXcd chips_;  // a row for each position; of a block the one entry
    bool block_ = false;
};

}  // namespace ringquell::internal
