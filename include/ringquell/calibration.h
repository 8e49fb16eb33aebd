// What records say of a case: which mode each shows, which numbers explain them, how far these are then known, and what
// to measure next (docs/bench.md).
#pragma once

#include <complex>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/bench_file.h"
#include "ringquell/case.h"
#include "ringquell/modes.h"
#include "ringquell/quantity.h"
#include "ringquell/ring_fit.h"
#include "ringquell/spread.h"

namespace ringquell {

/// A mode of the case beside a measured ring.
struct ModeBesideRing {
    Mode mode;
    double view = 1;  // how strongly it shows between the nodes, the most visible one being 1
    /// (ln f, ζ) of the mode less the record's, over their errors.
    double frequency_off = 0, damping_off = 0;
};

/// One point of an impedance: measured, as the case stands, and with what the records settle.
struct ImpedanceBeside {
    double frequency_hz = 0;
    std::complex<double> measured_ohm, before_ohm, after_ohm;
};

/// One record: what it says, and what the case says of it.
struct CalibratedRecord {
    BenchRecord record;
    // a ring, read or fitted, with the record's own standard errors
    double frequency_hz = 0, frequency_error_hz = 0;
    double damping_ratio = 0, damping_error = 0;
    // one error as the fit counts it, with the model's in squares
    double frequency_counted_hz = 0, damping_counted = 0;
    std::optional<RingFit> fit;         // of a waveform
    std::vector<ModeBesideRing> modes;  // with the case as it stands, the likeliest first
    bool two_would_do =
        false;  // the second is not told apart from the first (odds of less than three to one)
    std::optional<ModeBesideRing> after;  // with what the records settle
    // an impedance
    std::size_t points = 0;                  // that are fitted
    std::vector<ImpedanceBeside> impedance;  // these
    double off_before = 0, off_after = 0;    // root mean square of what is missed, in errors
    /// The greatest |residual| after the fit; a record fits where it is at most 3.
    double greatest_off = 0;
    bool fits() const { return greatest_off <= 3; }
    /// No mode can explain it: not within the tolerances, nor with any one number moved beyond them.
    bool nothing_rings_like_that = false;
    std::optional<Mode> nearest;  // in frequency, of all modes, where none is near
};

/// One number moved alone.
struct SingleChangeRow {
    /// Keys of one string, whose current is the same, count as one: the first of them is the one that moves.
    std::vector<std::string> keys;
    Dimension dimension = Dimension::number;
    bool curve = false;  // of a bead: `from` is 1
    double from = 0, to = 0;
    double tolerances = 0;  // how far, in tolerances
    bool tolerance_given = false;
    double misfit = 0;                // root mean square of what the records still miss, in errors
    bool explains = false;            // nothing is missed by more than 2 errors
    double score = 0;                 // minus twice the logarithm of its odds
    std::vector<std::string> others;  // the same number at other positions or everywhere would do as well
    std::vector<double> frequency_hz, damping_ratio;  // of each ring's mode then
    std::optional<double> worst_damping;              // of the whole path then; empty: not computed
    /// Two scores closer than this do not tell two rows apart (odds of less than three to one).
    static constexpr double tells_apart = 2.2;
};

struct CalibratedUnknown {
    std::string key;
    bool batch = false, curve = false;
    Dimension dimension = Dimension::number;
    double before = 0, before_error = 0, after = 0, after_error = 0;  // SI; standard deviations
    double narrowed = 1;                                              // standard deviation after over before
    std::vector<std::size_t> records;  // without which it were at least a tenth wider; indices
};

/// Numbers that the records settle together: two whose deviations go together, or those that count most in one
/// independent direction.
struct CalibratedCombination {
    std::vector<std::string> plus, minus;
    double narrowed = 1;  // standard deviation of the direction, after over before
    /// They have one dimension: Σ plus − Σ minus, SI.
    bool is_sum = false;
    Dimension dimension = Dimension::number;
    double value = 0, error = 0;
    std::optional<double> opposite_narrowed;  // of two: with the second's sign turned
};

struct NextMeasurement {
    std::string what;  // "ring", "impedance"
    std::string at;    // a point, or "unpowered"
    std::string from, to;
    std::string probe;
    double left = 1;  // of the standard deviation of the worst point's damping as it is now, to first order
    bool unpowered = false;
};

struct Calibration {
    std::string title, file, bench_file;
    std::vector<CalibratedRecord> records;
    std::vector<SingleChangeRow> single_changes;  // best first
    double misfit_before = 0;  // root mean square over all residuals with the case as it stands
    double misfit_after = 0;
    /// How likely it is that records miss a case within its tolerances by as much as these do, or more: of χ² with as
    /// many degrees as there are residuals. Below `implausible` they are explained only beyond the tolerances.
    double plausibility = 1;
    static constexpr double implausible = 1e-3;
    bool within_tolerances() const { return plausibility >= implausible; }
    std::vector<std::string>
        beyond;  // the unknowns that the fit moves out of their tolerances, farthest first
    bool converged = true;
    int other_minima = 0;            // that explain the records nearly as well
    std::vector<std::string> apart;  // in which numbers they differ most
    std::vector<CalibratedUnknown> unknowns;
    std::vector<CalibratedCombination> combinations;
    /// Least differential damping along the path, and how far it is known.
    std::string worst_point;
    double worst_before = 0, worst_after = 0;
    /// At that point, of the least differential damping: the standard deviation, and within what it lies with 95 %; by
    /// samples of what is not known.
    struct WorstKnown {
        double error = 0, low = 0, high = 0;
    };
    WorstKnown known_before, known_after;
    double damping_asked = 0;
    std::vector<NextMeasurement> next;  // the five that tell most
    Case calibrated;                    // complete, with the narrowed tolerances
    std::optional<SpreadResult> spread_before, spread_after;
    std::vector<std::string> remarks;
    /// False where a record is such that nothing in the case rings like that.
    bool explained() const;
};

}  // namespace ringquell
