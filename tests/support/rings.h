// Records of damped sinusoids with known answers.
#pragma once

#include <cmath>
#include <functional>
#include <numbers>

#include "ringquell/ring_fit.h"
#include "support/noise.h"

namespace rings {

/// amplitude·e^(−σt)·cos(ωt + phase), ω = 2π·hz, ζ = σ/√(σ² + ω²).
inline std::function<double(double)> ring(double hz, double zeta, double amplitude = 1, double phase = 0) {
    const double omega = 2 * std::numbers::pi * hz, sigma = omega * zeta / std::sqrt(1 - zeta * zeta);
    return [=](double t) { return amplitude * std::exp(-sigma * t) * std::cos(omega * t + phase); };
}

/// Even samples of a function, with white noise.
inline ringquell::Waveform record(int samples, double step_s, const std::function<double(double)>& f,
                                  double noise = 0, std::uint64_t seed = 1) {
    Noise next(seed);
    ringquell::Waveform out;
    for (int n = 0; n < samples; ++n) {
        out.time_s.push_back(n * step_s);
        out.value.push_back(f(n * step_s) + (noise > 0 ? noise * next() : 0));
    }
    return out;
}

}  // namespace rings
