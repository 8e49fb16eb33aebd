// How often a case passes when parts and layout vary within their tolerances (docs/spread.md).
#pragma once

#include <cstdint>
#include <functional>
#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/acceptable.h"
#include "ringquell/case.h"
#include "ringquell/growth.h"
#include "ringquell/judge.h"

namespace ringquell {

/// What is known of one sample.
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

struct SpreadOptions {
    std::int64_t samples = 10000;
    std::uint64_t seed = 1;
    int threads = 1;
    bool fast = true;  // false: every sample one by one on the simple path, for comparison
    /// Called from time to time with the number of samples done; false ends the run there.
    std::function<bool(std::int64_t done)> progress;
    /// Every sample in order, from 0.
    std::function<void(std::int64_t sample, const SampleOutcome& outcome)> each;
    /// Called from time to time with what a later run needs to go on from here.
    std::function<void(const std::string& checkpoint)> checkpoint;
    std::string resume;  // such a text; empty: from the beginning
};

struct SpreadQuantile {
    double p = 0;
    double damping_ratio = 0;        // to 1e-4
    std::optional<double> at_least;  // order statistics' one-sided 95 % bounds; empty: too few samples
    std::optional<double> at_most;
};

/// Share of the damping's variance that one tolerance alone explains (first order), with its standard error.
struct SpreadShare {
    std::string key;
    Vary vary = Vary::position;
    double share = 0, error = 0;
};

struct SpreadResult {
    std::string title;
    int positions = 0;
    Requirement require;
    std::uint64_t seed = 0;
    std::int64_t asked = 0, samples = 0;         // samples < asked: ended early
    std::int64_t passed = 0;                     // met the whole requirement
    std::int64_t kept = 0;                       // kept require.worst_damping, and nothing grew
    std::int64_t no_point = 0, not_trusted = 0;  // counted as not passed
    std::string reason;                          // of the first of these
    /// What is judged in passing (growth.h), of the case as it stands: samples are judged at the points judged
    /// held alone.
    std::vector<Passage> passages;
    std::int64_t one_by_one = 0;                         // left to the simple path
    double lower_bound_95 = 0, kept_lower_bound_95 = 0;  // Clopper–Pearson, one-sided
    std::vector<SpreadQuantile> quantiles;
    std::vector<SpreadShare> matters;  // largest first
    std::optional<std::int64_t> worst_sample;
    SampleOutcome worst;             // on the reference path
    std::string worst_point;         // its name
    std::optional<Case> worst_case;  // complete, without tolerances
    double seconds = 0;
    /// Of the first samples, of which there are `first`: kept as above.
    std::int64_t first = 0, kept_of_first = 0;
    std::int64_t samples_needed = 0;  // below this no share of passes could reach require.pass_share
    bool partial() const { return samples < asked; }
    /// Each of the first samples was judged, kept require.worst_damping, and nothing grew.
    bool keeps() const { return first > 0 && kept_of_first == first; }
    /// The share that meets the whole requirement is, with 95 % confidence, at least require.pass_share.
    bool share_reached() const { return lower_bound_95 >= require.pass_share; }
    /// The case as it stands meets require.passing_growth.
    bool passes_in_passing() const { return all_pass(passages); }
    /// pass: share_reached(), keeps() and passes_in_passing(). Where the last fails, no sample is asked. Without
    /// a sample that did not keep it, but too few for the share to be shown at all, or ended early: undecided.
    Verdict verdict() const;
};

/// The worst of so many samples must keep require.worst_damping. Of more the worst goes on falling, however
/// good the board.
inline constexpr std::int64_t samples_for_worst = 10000;

/// Draws and judges. The inputs of sample k depend on the seed and k alone, and results are gathered in the
/// samples' order, so that neither threads nor a stop and a resumption change a digit. Memory does not grow
/// with the samples. Throws InputError for a case without tolerances and for a checkpoint of another case,
/// seed or version.
SpreadResult spread(const Case& input, const SpreadOptions& options);

/// The least E24 gate resistance of an edge with which this share of samples passes on that edge, common
/// modes left out; judged on the first `samples` samples of the seed.
struct ResistanceForShare {
    Edge edge = Edge::turn_on;
    std::optional<double> ohm;
    double share = 0;  // that it reaches; where there is none, the most that was reached
    std::int64_t samples = 0;
};
ResistanceForShare resistance_for_share(const Case& input, Edge edge, double share, std::int64_t samples,
                                        std::uint64_t seed, int threads);

/// The least E24 value of at least 1 ohm within the windows with which all of the first 59 samples pass on
/// the edge, common modes left out: 95 % of all boards, with 95 % confidence (Wilks 1941; docs/spread.md).
/// Empty: none.
std::optional<double> preferred_by_samples(const Case& input, Edge edge, const std::vector<Window>& windows);

/// The extremes and middles of the few draws that matter most, all others nominal.
struct Corners {
    std::vector<std::string> keys;
    double worst_corner = 0;   // least damping ratio of the 2^k extremes
    std::vector<double> at;    // −1, 0 or 1 for each key
    double worst_of_grid = 0;  // of all 3^k points
    std::vector<double> grid_at;
    bool worst_inside = false;  // some point that is no corner is worse than every corner
};
Corners corners(const Case& input, const SpreadResult& result);

}  // namespace ringquell
