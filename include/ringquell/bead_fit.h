// A measured bead as a network of non-negative elements.
#pragma once

#include <complex>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/impedance_file.h"

namespace ringquell {

/// Z(s) = dc_resistance + 1/(s·C + 1/Σ_k Z_k), Z_k = s·R_k·L_k/(R_k + s·L_k), in ohm; s in rad/s. With
/// non-negative elements it is positive real: Re Z ≥ 0 wherever Re s > 0. A section whose R or L is zero
/// counts as a wire.
std::complex<double> bead_impedance_ohm(const Bead& bead, std::complex<double> s);

struct BeadFitOptions {
    double band_low_hz = 1e6;
    double band_high_hz = 100e6;
    std::optional<double> dc_resistance_ohm;  // absent: fitted where that pays, else 0
    int most_sections = 8;
    Place place;  // of the curve, for messages
};

/// One measured point and what the fit makes of it.
struct BeadFitPoint {
    double frequency_hz = 0;
    std::complex<double> measured_ohm;
    std::complex<double> fitted_ohm;
    double relative_error = 0;  // |fitted − measured| / |measured|
    bool passive = true;        // and not zero, which has no relative error
    bool in_band = true;
    bool used() const { return passive && in_band; }
};

/// Where a fit has more loss than was measured: half as much again, and by more than 2 % of |Z|, which meters
/// leave open. It is looked for where the fit is more inductance than resistance, of one section where
/// ω·L < R: there |Z|, which is what is fitted, says little of the loss.
struct LossOverstated {
    double from_hz = 0, to_hz = 0;  // first and last such point
    double worst_at_hz = 0;         // where fitted over measured is most
    double measured_ohm = 0, fitted_ohm = 0;
};

/// Errors are relative, |fitted − measured| / |measured|, over the points used: passive and in the band.
struct BeadFit {
    Bead bead;
    double band_low_hz = 0;  // of the points used
    double band_high_hz = 0;
    double rms_error = 0;
    double worst_error = 0;
    double worst_at_hz = 0;
    double share_within_5_percent = 0;
    int points_used = 0;
    int points_not_passive = 0;  // of those in the band
    int points_outside_band = 0;
    /// Element n − 1: the best with n sections, as far as tried.
    std::vector<double> rms_by_sections;
    std::vector<BeadFitPoint> points;  // all of the data
    std::optional<LossOverstated> overstated;
    std::vector<Warning> warnings;  // where the data does not look like such a network
};

/// The network that meets the points used with the least sum of squared relative errors, for each number of
/// sections; that number is chosen which minimises log(rms) + n·penalty, so that a section more has to earn
/// its place (see bead_fit.cpp for the penalty). Where the loss is overstated and is not with one section
/// more, that one is taken.
///
/// Method: for fixed C and fixed corner frequencies R_k/L_k the R_k follow from linear least squares without
/// negative values (Lawson & Hanson's active set); the best over a range of C starts Levenberg–Marquardt on
/// the logarithms of all elements. A local method: the least error found, not proved least.
///
/// InputError unless at least four passive points with |Z| > 0 lie in the band, 0 < band_low < band_high, and
/// most_sections is from 1 to 8. The points must rise in frequency.
BeadFit fit_bead(const std::vector<ImpedancePoint>& points, const BeadFitOptions& options = {});

/// Warnings where the data leaves an end of a band, whose name is `band`, without points.
std::vector<Warning> short_of_band(const std::vector<ImpedancePoint>& points, double low_hz, double high_hz,
                                   const std::string& band);

}  // namespace ringquell
