// What the record of a ring says: a sum of damped sinusoids and noise, fitted (docs/bench.md).
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "ringquell/error.h"

namespace ringquell {

/// Samples of one channel. Times rise strictly.
struct Waveform {
    std::vector<double> time_s, value;
    /// The place of the last digit that the times were printed with; 0 where they were not printed.
    double time_resolution_s = 0;
};

/// A larger file of samples is refused.
inline constexpr std::size_t largest_waveform_file_bytes = std::size_t{512} << 20;

/// Reads columns parted by tab, semicolon or comma (whichever the header has, in this order), `#` begins a comment.
/// `time_column` and `value_column` name columns, or count them from 1; empty means the first and the second. The header is the
/// first line that has both names, what stands above it is passed over; where both are empty or counted the first line
/// is the header, or there is none if it is all numbers. Units stand in the header, `t [ns]`, `t (ns)` or `t_ns`, or in
/// a line of their own below it; without any, s and V (or A). Throws InputError with line and column: no such column
/// (with the nearest), an unknown unit or a missing one beside one that is given, one column, no number, times that do
/// not rise, no samples.
Waveform read_waveform(const std::string& path, const std::string& time_column = "",
                       const std::string& value_column = "");

/// amplitude·e^(−σt)·cos(ωt + phase), t from the window's start. Errors are standard errors: the Cramér–Rao bounds of
/// all parameters together, for noise as strong as what was left over, near the ring where that is not white.
struct FittedRing {
    double frequency_hz = 0, frequency_error_hz = 0;  // ω/2π, as a scope shows it
    double damping_ratio = 0, damping_error = 0;      // σ/√(σ² + ω²); negative where it grows
    double amplitude = 0, amplitude_error = 0;        // at the window's start
    double phase_rad = 0;
    double frequency_damping_correlation = 0;
};

/// The same ring, the strongest, fitted from a later start.
struct RingStart {
    double from_s = 0;
    FittedRing ring;
};

struct RingFit {
    double from_s = 0, to_s = 0;  // the window really used, first and last sample
    std::size_t samples = 0;
    double sample_period_s = 0;
    std::vector<FittedRing> rings;  // strongest (energy within the window) first; at least one
    double offset = 0, offset_error = 0;
    double noise_rms = 0;  // of what is left over, a sample
    /// Correlation of what is left over with itself one point later; of white noise it lies within
    /// ±`whiteness_allowed` (three standard deviations, 3/√points). A point is the mean of
    /// `samples_per_point` samples.
    double whiteness = 0, whiteness_allowed = 0;
    std::size_t samples_per_point = 1;
    /// Where it is not white, by how much the strongest ring's errors are enlarged over those of white noise: the root of
    /// the spectral density near the ring over its mean. Each ring's errors are those of its own frequency.
    double errors_enlarged = 1;
    /// The window's own start and several later ones, at even steps; the last leaves enough of the ring to tell.
    std::vector<RingStart> starts;
    /// From the first to the last of the longest row of starts, three at least, over which frequency and damping stand
    /// still: each differs from the row's first by less than 3.5 standard deviations of that difference (two
    /// dozen are looked at).
    std::optional<std::pair<double, double>> steady;
    std::vector<std::string> remarks;  // plain sentences
    // What a page draws, thinned to at most 2000 points.
    std::vector<double> shown_time_s, shown_value, shown_fit;
};

struct RingFitOptions {
    std::optional<double> from_s, to_s;
    Origin place;  // of the record, for errors
    int most_rings = 6;
};

/// Matrix pencil for the start, variable projection for the last digits; a ring or decay stays only where it pays for
/// itself by information. Throws InputError at options.place: window empty or outside, fewer than 16 samples, steps of
/// time that are uneven beyond what printing explains, values not finite, an edge within the window at which a ring
/// begins, nothing that rings. Throws NumericalError where an eigenvalue iteration does not converge.
RingFit fit_ring(const Waveform& record, const RingFitOptions& options = {});

}  // namespace ringquell
