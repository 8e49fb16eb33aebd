// What a mode looks like: who swings against whom, and how a disturbed gate rings.
#pragma once

#include <complex>
#include <string>
#include <vector>

#include "ringquell/check.h"

namespace ringquell::internal {

struct Phasor {
    int position = 0;                // from 1
    std::complex<double> amplitude;  // of its gate-source voltage on the chip; the largest is 1
    double energy_share = 0;         // of the mode's energy, in what belongs to the position
};

struct ModeShape {
    size_t point = 0;  // index into CheckResult::points
    Mode mode;
    std::vector<Phasor> positions;
    double shared_energy = 0;  // in the driver, the power loop and the buses
    /// Alike positions have N − 1 equal differential modes, and every swing whose sum is zero is one of them:
    /// the one shown has position 1 swing against the others.
    bool one_of_many = false;
};

/// Of the worst mode of each kind, as far as there is one. A device without gate-source capacitance has none.
std::vector<ModeShape> mode_shapes(const Case& input, const CheckResult& result);

/// The gate-source voltages after a charge that would lift one gate alone by 1 V has been put on it at t = 0.
struct Ring {
    size_t point = 0;   // index into CheckResult::points
    int disturbed = 0;  // position, from 1
    std::vector<double> time_s;
    struct Curve {
        std::vector<int> positions;  // that move alike
        std::vector<double> voltage_v;
    };
    std::vector<Curve> curves;  // the disturbed position first
    int modes = 0;              // that it is the sum of
    std::string not_shown;      // why there are no curves
};

/// At the point of the worst mode, by the modes of the network there: with E·dx/dt = A·x + b·δ(t), x(t) is
/// the sum of α·x_k·exp(λ_k·t), the shares α taken from the resolvent (s₀E − A)⁻¹b at a real s₀, whose powers
/// also leave out what is infinitely fast. Small-signal: a growing ring has no end here, a real one has.
Ring ring_after_disturbance(const Case& input, const CheckResult& result);

}  // namespace ringquell::internal
