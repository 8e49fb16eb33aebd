// Which bead with which gate resistor: what each needs, what it gives, and what it costs.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/switching.h"

namespace ringquell {

/// A bead to try in every gate path; without `bead`: none.
struct BeadCandidate {
    std::string name;
    std::optional<Bead> bead;
};

struct ChooseOptions {
    std::vector<BeadCandidate> beads;  // beside "no bead" and the one that is fitted, which are always tried
    bool turn_on = true, turn_off = true;
    double switching_frequency_hz = 20e3;
    std::optional<double> limit_time_s;   // both transfers of one edge; an unknown time does not meet it
    std::optional<double> limit_damping;  // least damping ratio with the preferred resistor
};

/// One bead on one edge, with the E24 resistor that its windows prefer.
struct ChosenOption {
    std::string bead;  // "no bead", or its name
    bool fitted = false;
    Edge edge = Edge::turn_on;
    std::optional<double> minimum_ohm, preferred_ohm;
    bool complete = false;                                  // of the windows
    std::optional<double> window_low_ohm, window_high_ohm;  // of the window that holds the preferred value
    /// How far the preferred value may drift before it leaves its window: least of p/low − 1 and high/p − 1
    /// (the search's own limit is no end). Empty where the window has no end.
    std::optional<double> margin;
    /// Least of the differential modes in the band, at every judged point of the edge.
    std::optional<double> damping_ratio;
    std::optional<double> natural_frequency_hz;  // of that mode
    std::optional<double> common_damping_ratio;
    bool passes = false;  // the whole requirement on this edge, common modes too
    SwitchingEstimate cost;
    /// With this bead on both edges; the other edge's resistor is the one this table prefers, else the fitted
    /// one.
    std::optional<InducedGate> induced;
    bool shoot_through() const { return induced && induced->shoot_through(); }
    bool recommended() const { return passes && !shoot_through(); }
    /// As good or better in energy, damping and induced voltage, and better in one: another option of the
    /// edge.
    std::string dominated_by;
    bool within_limits = true;
    int rank = 0;  // from 1, of its edge
};

struct Choice {
    std::string title;
    double switching_frequency_hz = 0;
    std::vector<ChosenOption> options;  // turn-on first; by rank
    int filtered_out = 0;
    int sizings = 0;  // one is both edges of one bead
};

/// Windows once per bead and edge. Ranked: first those that pass without shoot-through, then those that fail,
/// last those that would turn the other switch on; within each by switching energy (where that is not known,
/// by resistance), then by damping. Options beyond a limit are left out, "no bead" excepted, which stays and
/// is marked.
Choice choose(const Case& input, const ChooseOptions& options = {});

}  // namespace ringquell
