// By what factor a disturbance grows while a switching transient crosses unstable points.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/families.h"
#include "ringquell/operating_path.h"

namespace ringquell {

/// The greatest ∫σ dt over any part of a passage (a disturbance may begin anywhere in it), at least 0; σ in
/// 1/s at times in s, straight lines between; from time 0 to the first time along the line through the first
/// two, but not above the first. Exact for such σ: a constant one gives σ·t. Where a σ is absent the passage
/// is interrupted.
double growth_exponent(const std::vector<double>& at_s,
                       const std::vector<std::optional<double>>& sigma_per_s);

/// One family that grows somewhere in a stage.
struct PassingGrowth {
    std::string stage;
    double junction_temperature_degc = 25;
    std::string family;
    double exponent = 0;  // of e
    double factor() const;
    double time_s = 0;  // of the whole stage
    double peak_sigma_per_s = 0;
    bool estimated = true;  // the time, from switching.h; else given as `operation.path.durations`
    bool judged = true;     // false: a stage that is shown, no part of the verdict
};

struct PassingGrowths {
    std::vector<PassingGrowth> list;  // largest first
    std::vector<std::string> notes;   // of stages that have growing modes but no known time
};

/// Integrates the growth of the families, as followed over these points, over the time of each stage
/// (switching.h). `grows` says of each point whether it has a growing mode; other stages are passed over.
PassingGrowths passing_growth(const Case& input, const std::vector<OperatingPoint>& points,
                              const std::vector<bool>& grows, const Families& families);

}  // namespace ringquell
