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
#include "ringquell/modes.h"
#include "ringquell/operating_path.h"

namespace ringquell {

enum class Verdict { pass, fail, undecided };
const char* verdict_name(Verdict verdict);

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

struct CheckOptions {
    Method method = Method::automatic;
    bool size_gate_resistor = true;
    Effort effort = Effort::quick;  // of sizing an uneven layout
    /// Names them along the path; done all the same where a stage judged in passing grows.
    bool follow_modes = true;
    bool gain_margin = true;  // seeks it; what require.gain_margin asks is judged all the same
};

struct CheckResult {
    Requirement require;
    std::string title;
    int positions = 0;
    Verdict verdict = Verdict::pass;
    std::string undecided_reason;
    std::vector<PointResult> points;
    std::optional<FoundMode> worst_differential,
        worst_common;  // in the band, least damped, at points judged held
    std::vector<FoundMode>
        growing;  // anywhere in the spectrum, certain, at points judged held; fastest first
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
    std::vector<Warning> warnings;
    double condition = 1;
};

/// Walks, solves, judges and sizes. Throws InputError and NumericalError as the stages do.
CheckResult check(const Case& input, const CheckOptions& options = {});

/// The network in which a mode of this kind lives at a point: a block where positions are alike.
Network network_of(const Case& input, const OperatingPoint& point, bool alike, ModeKind kind);
/// Adds uncertainty and the gain's part to a mode, by a refined eigenpair of its network.
FoundMode examine(const Case& input, const OperatingPoint& point, bool alike, const Mode& mode,
                  size_t point_index);
/// Does the mode miss what is asked of it: growth anywhere, or too little damping in the band?
bool misses(const Mode& mode, const Requirement& require);
bool grows(const Mode& mode);
/// The mode that a review is about: the worst differential one, unless the common one alone misses or there
/// is no other; null where nothing oscillates in the band.
const FoundMode* mode_in_question(const CheckResult& result);

}  // namespace ringquell
