// By what factor a disturbance grows while a switching edge passes its points, and what follows for the
// verdict.
//
// Every stage of the walk is judged in one of two ways. Held: each of its points must meet what is asked, as
// if the edge stood still there. In passing: all such stages of one edge are one passage, and the product of
// their growth factors is set against `require.passing_growth`.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/families.h"
#include "ringquell/modes.h"
#include "ringquell/operating_path.h"

namespace ringquell {

/// The greatest ∫σ dt over any part of a passage (a disturbance may begin anywhere in it), at least 0; σ in
/// 1/s at times in s, straight lines between; from time 0 to the first time along the line through the first
/// two, but not above the first. Exact for such σ: a constant one gives σ·t. Where a σ is absent the passage
/// is interrupted.
double growth_exponent(const std::vector<double>& at_s,
                       const std::vector<std::optional<double>>& sigma_per_s);

/// The estimate x of an exponent is right within a power: integration of boards gave between a quarter of x
/// and 2.4 times x (common practice, no source; two boards).
inline constexpr double least_of_exponent = 0.25, most_of_exponent = 2.4;

/// A factor with its range.
struct Growth {
    double exponent = 0;
    double factor() const;
    double least() const;
    double most() const;
};

/// One stage of the walk, at one junction temperature and one assumed output slope.
struct Stage {
    std::string name;   // "turn_off plateau", with what tells the walks apart
    std::string stage;  // without
    Edge edge = Edge::turn_on;
    std::string variant;
    bool held = true;
    bool passes = true;
    std::vector<size_t> points;
    /// The least damped of all modes that grow or oscillate in the band, as if the edge stood still.
    struct Least {
        size_t point = 0;
        Mode mode;
    };
    std::optional<Least> least;
    bool grows_if_held() const;
    std::optional<double> time_s;  // empty: not known, and `why` says it
    bool time_estimated = true;    // switching.h; else `operation.path.durations`
    std::string why;
    /// Of whatever grows most in it; empty where it grows and the time is not known.
    std::optional<Growth> growth;
    std::string family;  // which that is, where modes were followed
};

/// What is judged in passing on one edge.
struct Passage {
    Edge edge = Edge::turn_on;
    std::string variant;
    bool soft = false;                // with the ramp of `operation.soft_turn_off` as its time
    std::vector<std::string> stages;  // their names
    std::optional<Growth> growth;     // empty: it grows, and for how long is not known
    double limit = 10;
    /// The greatest growth that the estimate's range allows stays within the limit.
    bool passes() const { return growth && growth->most() <= limit; }
    /// The limit lies within the range: only an integration can tell.
    bool integration_decides() const { return growth && !passes() && growth->least() <= limit; }
};

bool all_pass(const std::vector<Passage>& passages);

/// How far a ring can come in one clean edge, all stages together. It is no part of the verdict.
enum class GrowthGrade { unseen, may_be_seen, may_reach_volts };
/// "unseen", "may_be_seen", "may_reach_volts".
const char* grade_name(GrowthGrade grade);
/// What the grade means for somebody who measures, a sentence without its stop.
const char* grade_words(GrowthGrade grade);

struct EdgeGrowth {
    Growth growth;
    std::optional<GrowthGrade> grade;  // empty: nothing grows
    std::string variant;               // of which walk this is the worst
};

struct Passages {
    std::vector<Stage> stages;  // in the order of the walk
    std::vector<Passage> passages;
    std::map<Edge, EdgeGrowth> edges;  // the worst of the walks
    std::vector<std::string> notes;    // of stages that have growing modes but no known time
};

/// The stages of these points with their modes. `families`, as followed over the points, tell which mode is
/// which; where they were not followed the greatest growth rate of each point counts, whatever mode has it.
Passages pass_stages(const Case& input, const std::vector<OperatingPoint>& points,
                     const std::vector<const Modes*>& modes, const Families& families);

}  // namespace ringquell
