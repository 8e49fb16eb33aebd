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

/// As link_modes, halving [from, to] where the links are ambiguous, `depth` times at most; counts the
/// halvings.
Links link_refined(const std::vector<ModeVector>& left, const std::vector<ModeVector>& right, double from,
                   double to, const ModesBetween& between, const Requirement& require, int depth,
                   int& halvings);

}  // namespace ringquell::internal
