// What is known of one sample of a spread.
#pragma once

#include <cstdint>
#include <limits>
#include <string>

#include "ringquell/case.h"
#include "ringquell/modes.h"

namespace ringquell {

struct SampleOutcome {
    enum class Status {
        judged,
        no_point,     // an operating point cannot exist: counts as not passed
        not_trusted,  // the numbers could not be trusted: counts as not passed
    };
    Status status = Status::judged;
    bool passes = false;
    bool grows = false;
    bool grows_with_gain = false;      // something grows with all gains require.gain_margin times as large
    bool differential_misses = false;  // some differential mode in the band has not the damping asked
    /// The least of all judged points: of the differential modes in the band and of whatever grows anywhere
    /// (of one position alone: of the common modes). NaN where there is none.
    double damping_ratio = std::numeric_limits<double>::quiet_NaN();
    double natural_frequency_hz = 0;
    ModeKind kind = ModeKind::differential;
    int point = -1;  // index into the path
    /// Of the least damped common mode that misses its target; NaN where none does.
    double common_damping_ratio = std::numeric_limits<double>::quiet_NaN();
    std::uint32_t attempts = 1;      // drawn so often until the couplings were possible
    bool on_reference_path = false;  // the fast path left it to the simple one
    std::string reason;              // where it was not judged
};

/// Judges a case as a sample, point by point, with ModeSolver: the simple path, to which the fast one is
/// compared.
SampleOutcome judge_sample(const Case& sample);

}  // namespace ringquell
