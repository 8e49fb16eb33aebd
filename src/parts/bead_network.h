// The numerical part of bead_fit: the network of a bead as elements, their start values and their refinement.
#pragma once

#include <complex>
#include <vector>

namespace ringquell::internal {

/// The points a fit uses; ω strictly rising, positive; z not zero.
struct BeadData {
    std::vector<double> omega;            // rad/s
    std::vector<std::complex<double>> z;  // ohm
};

/// A section is R ‖ L, given by R and by its corner R/L, at which it turns from L to R.
struct BeadElements {
    struct Section {
        double resistance_ohm = 0;
        double corner_rad_per_s = 0;
    };
    std::vector<Section> sections;  // rising in corner
    double capacitance_f = 0;
    double dc_resistance_ohm = 0;
    bool dc_resistance_known = true;  // then it is not refined
};

std::complex<double> impedance_ohm(const BeadElements& elements, double omega);

/// Root mean square of |model − z| / |z|.
double relative_rms(const BeadElements& elements, const BeadData& data);

/// Elements for a given C and DC resistance: corners on a fixed logarithmic grid of the band and two decades
/// beyond each end, the R_k by non-negative least squares on
///   Z' = 1/(1/(z − R_dc) − jωC) = Σ_k R_k·jω/(jω + corner_k),
/// weighted such that the error is the relative one of z to first order.
BeadElements start_elements(const BeadData& data, double capacitance_f, double dc_resistance_ohm);

/// `start_elements` at the C, from none to what the data's upper half could hold, that meets the data best.
/// Several, best first: local minima over C.
std::vector<BeadElements> best_starts(const BeadData& data, double dc_resistance_ohm);

/// The same network with neighbouring sections merged, least harm first, until `count` are left.
BeadElements merged_to(BeadElements elements, size_t count);

/// What Levenberg–Marquardt minimises: Σ |ln(model/z)|², which bears poor start values (too high and too low
/// a resonance weigh alike), or Σ |model/z − 1|², which is what a fit reports.
enum class BeadObjective { logarithmic, relative };

/// Levenberg–Marquardt on the logarithms of all elements above zero, with analytic derivatives; corners stay
/// within five decades of the band. Elements that are zero stay zero.
void refine(BeadElements& elements, const BeadData& data, BeadObjective objective, int most_steps);

}  // namespace ringquell::internal
