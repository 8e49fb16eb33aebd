// Which mode of one point is which of the next.
#pragma once

#include <functional>
#include <optional>
#include <vector>

#include "modes/mode_vectors.h"

namespace ringquell::internal {

/// For each mode on the left, the one on the right; empty where it has none. Two on the left may lead to one:
/// two real eigenvalues that become a pair. A pair that becomes two real eigenvalues leads to the one that
/// decays least.
struct Links {
    std::vector<std::optional<size_t>> to;
    bool ambiguous = false;  // of a mode that `matters` to the caller
};

/// In the band, or growing: what decides whether a doubtful link is worth halving a step for.
bool matters(const ModeVector& mode, const Requirement& require);

Links link_modes(const std::vector<ModeVector>& left, const std::vector<ModeVector>& right,
                 const Requirement& require);

using ModesBetween = std::function<std::vector<ModeVector>(double)>;

/// As link_modes, halving the step where the links are ambiguous, a limited number of times.
class LinkRefiner {
  public:
    /// `between`: the modes at a share of the whole step; `halvings` are counted.
    LinkRefiner(const ModesBetween& between, const Requirement& require, int& halvings)
        : between_(between), require_(require), halvings_(halvings) {}

    /// Part of the step, from 0 to 1, and how often it has been halved.
    struct Stretch {
        double from = 0, to = 1;
        int halved = 0;
    };
    Links link(const std::vector<ModeVector>& left, const std::vector<ModeVector>& right,
               const Stretch& step);

  private:
    const ModesBetween& between_;
    const Requirement& require_;
    int& halvings_;
};

}  // namespace ringquell::internal
