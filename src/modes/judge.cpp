#include "ringquell/judge.h"

#include <cmath>

namespace ringquell {

const char* verdict_name(Verdict verdict) {
    switch (verdict) {
        case Verdict::pass:
            return "pass";
        case Verdict::fail:
            return "fail";
        case Verdict::undecided:
            return "undecided";
    }
    return "";
}

bool grows(const Mode& mode) {
    // A share of rounding: what a lossless loop without gain shows is not growth.
    constexpr double rounding = 1e-12;
    return mode.eigenvalue.real() > rounding * std::abs(mode.eigenvalue);
}

bool misses(const Mode& mode, const Requirement& require) {
    if (grows(mode)) return true;
    return mode.oscillates() && in_band(mode, require) &&
           mode.damping_ratio() < damping_target(mode, require);
}

}  // namespace ringquell
