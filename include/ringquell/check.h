// The verdict of a case: every judged point's modes against the requirement, and the gate resistance that
// would do.
#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/acceptable.h"
#include "ringquell/case.h"
#include "ringquell/families.h"
#include "ringquell/gain_margin.h"
#include "ringquell/growth.h"
#include "ringquell/judge.h"
#include "ringquell/modes.h"
#include "ringquell/operating_path.h"

namespace ringquell {

struct EdgeSizing {
    Acceptable acceptable;
    PerEdge fitted_ohm;                                    // of position 1, this edge's in both
    double fitted_lowest_ohm = 0, fitted_highest_ohm = 0;  // over positions
    std::optional<double> minimum_ohm;
    std::optional<double> preferred_ohm;
    bool by_samples = false;  // the preferred value's margin comes from the case's tolerances, not from 30 %
    bool passes_with_preferred = false;
    std::optional<FoundMode> fails_with_preferred;  // the mode in the way
};

/// One key that a cure changes. `to` as a case file and `--set` have it; `from` is empty for a part that is new.
struct CureChange {
    std::string key, from, to;
    std::string words = {};  // for people, where `to` is long
};

/// The least change that a short search finds (cure.h).
struct FirstCure {
    std::vector<CureChange> changes;
    double price = 0;
    bool resistors_alone = false;
    std::optional<double> damping_before, damping_ratio;  // worst differential mode
};

/// What the verdict owes to numbers that are assumed.
struct AssumedValue {
    std::string key;
    /// Of the worst differential damping, without sign, to first order: over its tolerance, or where it has none
    /// over a tenth of its value. Empty where the worst mode does not say it.
    std::optional<double> damping_change;
    bool over_tolerance = false;
};

struct CheckOptions {
    Method method = Method::automatic;
    bool size_gate_resistor = true;
    Effort effort = Effort::quick;  // of sizing an uneven layout
    /// Names them along the path; done all the same where a stage judged in passing grows.
    bool follow_modes = true;
    bool gain_margin = true;  // seeks it; what require.gain_margin asks is judged all the same
};

/// A ring of the case, `measured`, and what is computed at its point.
struct MeasuredMode {
    MeasuredRing ring;
    size_t point = 0;  // index into CheckResult::points
    Mode seen;         // what was measured as a mode: λ = −1/decay + 2π·frequency·i; of no known kind
    /// Of those that oscillate there the one whose eigenvalue is nearest; empty where none oscillates, or where
    /// not all of them were sought.
    std::optional<Mode> nearest;
};

struct CheckResult {
    Requirement require;
    std::string title;
    int positions = 0;
    Verdict verdict = Verdict::pass;
    std::string undecided_reason;
    std::vector<PointResult> points;
    /// In the band, nearest to what is asked of its kind or farthest short of it, at points judged held.
    std::optional<FoundMode> worst_differential, worst_common;
    /// Anywhere in the spectrum, certain, at points judged held; fastest first.
    std::vector<FoundMode> growing;
    std::map<Edge, EdgeSizing> gate_resistance;  // of the edges that the path has
    Families families;                           // of the modes, over `points`
    // What stands on the board, for the words of the advice.
    bool has_beads = false, has_snubbers = false;  // at every position
    bool bare_dice = false;                        // no package: dice inside a module
    bool drive_is_step = true;                     // no ramp is given
    Passages passages;                             // every stage of the walk, and how it is judged
    std::optional<GainMargin> gain_margin;         // empty: not asked
    /// What grows with all gains as large as require.gain_margin asks.
    std::optional<GainMargin::Onset> grows_at_required_gain;
    std::optional<FirstCure> first_cure;  // add_first_cure() fills it
    /// What matters most first; empty: nothing is assumed.
    std::vector<AssumedValue> assumed;
    std::vector<MeasuredMode> measured;  // nothing is judged by them
    std::vector<Warning> warnings;
    double condition = 1;
};

/// Walks, solves, judges and sizes. Throws InputError and NumericalError as the stages do.
CheckResult check(const Case& input, const CheckOptions& options = {});

/// The mode that a review is about: the worst differential one, unless the common one alone misses or there
/// is no other; null where nothing oscillates in the band.
const FoundMode* mode_in_question(const CheckResult& result);

}  // namespace ringquell
