// When the points of one stage are passed.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/switching.h"

namespace ringquell::internal {

/// The time at which each of these consecutive points of one stage is passed, from the beginning of the stage
/// in the order given, and whether it is an estimate.
struct StageTimes {
    /// Of each point; the first one's is above 0 where the stage begins before its first point.
    std::vector<double> at_s;
    double total_s = 0;
    bool estimated = true;
};

/// `given_s`, else `operation.path.durations` where the stage has one (its points then divide it as the
/// estimate would), else estimated: gate voltage along a logarithm (current, peak), charge at constant gate
/// current (voltage), charge of the gate (a cascode's plateau). Empty where that cannot be; `why` then says
/// it.
std::optional<StageTimes> stage_times(const Case& input, const std::vector<OperatingPoint>& stage,
                                      const SwitchingEstimate& estimate, std::string& why,
                                      std::optional<double> given_s = {});

}  // namespace ringquell::internal
