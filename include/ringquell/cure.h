// The least intrusive changes with which a case passes.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/check.h"
#include "ringquell/choose.h"
#include "ringquell/switching.h"

namespace ringquell {

/// What an edge and its neighbour pay for it; all estimates (switching.h).
struct CureCost {
    std::optional<double> transfer_s;          // of the slower edge
    std::optional<double> switching_energy_j;  // of both edges
    double snubber_loss_w = 0;                 // of one position
    std::optional<InducedGate> induced;        // the other switch's gate, lifted by dv/dt
};

struct CureOption {
    std::vector<CureChange> changes;
    /// Σ over what moves: its effort, and |log2(new/old)| of the number, a new part's against its typical
    /// value.
    double price = 0;
    std::optional<double> damping_ratio, common_damping_ratio;  // worst of each kind, at points judged held
    std::optional<GainMargin> gain_margin;
    CureCost cost;
    /// No other option is at least as good in price, damping, switching energy and induced gate voltage, and
    /// better in one.
    bool pareto = false;
    bool with_room = false;  // the gate resistor that check() prefers, with its margin
    Case cured;
};

/// A kind of change that does not do alone, as far as it goes and why not further.
struct NoCure {
    std::string what;
    std::vector<CureChange> best;         // with which what misses comes nearest; empty: nothing held misses
    std::optional<double> damping_ratio;  // of what then is in the way
    std::string reason;
};

struct CureOptions {
    std::vector<BeadCandidate> beads;  // none: typical ones
    double switching_frequency_hz = 20e3;
};

struct Cure {
    CheckResult before;  // without gate resistors
    CureCost cost_before;
    bool typical_beads = false;
    bool by_samples = false;          // each option passes with 59 samples of the case's tolerances, too
    std::vector<CureOption> options;  // by price
    std::vector<NoCure> alone_not;
    std::int64_t networks = 0;  // that were solved
    bool ended_early = false;   // not all was tried
};

/// Changes of one number at all positions alike (of the layout at one position, too, where that differs), and
/// of parts that are fitted everywhere. A cure's value is the nearest one that passes: gate, Kelvin, snubber
/// and driver resistors by E24, capacitances by E6, an inductance of the layout between half and twice what
/// it is (cure.may) to three digits. Looked for: every change alone, completely on these values; every change
/// with the gate resistors that each edge then needs; pairs of what reduces the total that is missing, and
/// triples where no pair does. Each is confirmed by check() of the whole case, and, where the case has
/// tolerances, by 59 samples of which all pass. The search is the same on every machine. Throws as check()
/// does.
Cure find_cure(const Case& input, const CureOptions& options = {});

/// Fills CheckResult::first_cure of a case that fails with the first of find_cure() in short: no layout, no
/// pairs but with gate resistors, coarse values for snubbers, without samples. Left empty where that finds
/// nothing, where what fails does so in passing, and for uneven layouts that are too large for it. `result` is
/// check()'s of the case.
void add_first_cure(const Case& input, CheckResult& result);

}  // namespace ringquell
