// What a cell of a map shows of a network: its least damped modes.
#pragma once

#include <optional>

#include "ringquell/judge.h"

namespace ringquell::internal {

struct LeastMode {
    double damping_ratio = 0, natural_frequency_hz = 0;
};

struct LeastModes {
    std::optional<LeastMode> differential, common;  // least damped in the band
};

LeastModes least_modes(const std::vector<Mode>& modes, const Requirement& require);
/// The worse of both, kind by kind.
LeastModes worse_of(const LeastModes& a, const LeastModes& b);

}  // namespace ringquell::internal
