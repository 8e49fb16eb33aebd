#include "ringquell/judge.h"

#include <array>
#include <cmath>

#include "modes/ranking.h"

namespace ringquell {

using namespace internal;

const char* verdict_name(Verdict verdict) {
    static constexpr std::array names{"pass", "fail", "undecided"};
    return names[static_cast<size_t>(verdict)];
}

bool grows(const Mode& mode) {
    // A share of rounding: what a lossless loop without gain shows is not growth.
    constexpr double rounding = 1e-12;
    return mode.eigenvalue.real() > rounding * std::abs(mode.eigenvalue);
}

bool misses(const Mode& mode, const Requirement& require) {
    if (grows(mode)) return true;
    return rings_in_band(mode, require) && mode.damping_ratio() < damping_target(mode, require);
}

}  // namespace ringquell
