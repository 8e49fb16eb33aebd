// What a mode is worth against what is asked of it: the one place that says when a mode grows and when it misses.
#pragma once

#include <string>

#include "ringquell/case.h"
#include "ringquell/modes.h"
#include "ringquell/operating_path.h"

namespace ringquell {

enum class Verdict { pass, fail, undecided };
const char* verdict_name(Verdict verdict);

/// Does the mode miss what is asked of it: growth anywhere, or too little damping in the band?
bool misses(const Mode& mode, const Requirement& require);
bool grows(const Mode& mode);

struct PointResult {
    OperatingPoint point;
    Modes modes;
};

/// A mode at a point, with what is known of it.
struct FoundMode {
    size_t point = 0;  // index into CheckResult::points
    Mode mode;
    std::string family;  // its name along the path; empty where modes were not followed
    double damping_uncertainty = 0;
    /// Where the damping comes from: Σ of value·Re((lᵀx)*(rᵀx))/(|λ|·xᴴEx) over all elements is ζ. The
    /// transconductances' part; negative where gain feeds the mode.
    double damping_by_gain = 0;
    /// Gain feeds the mode and without it the mode would be damped markedly better; else it is the loops' own
    /// ringing.
    bool fed_by_gain() const {
        return damping_by_gain < 0 && -damping_by_gain > 0.1 * (mode.damping_ratio() - damping_by_gain);
    }
};

}  // namespace ringquell
