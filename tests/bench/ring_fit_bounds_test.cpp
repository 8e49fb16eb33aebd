// How near fits of noisy rings come to the Cramér–Rao bound, and whether the errors that they state are theirs.
#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "numerics/damped_sinusoids.h"
#include "ringquell/ring_fit.h"
#include "support/relative.h"
#include "support/rings.h"

using namespace ringquell;
using namespace ringquell::internal;

#ifndef RINGQUELL_SANITIZED  // minutes there

namespace {

constexpr double pi = std::numbers::pi;

struct Truth {
    double hz, sigma, amplitude, phase;
};

struct Scatter {
    double frequency = 0, damping = 0;  // bound over observed variance
    double beyond_three = 0;            // share of estimates beyond three of their own standard errors
    double pulls = 0;                   // mean square of (estimate − truth)/(its own standard error)
};

double damping_ratio(const Truth& t) {
    return t.sigma / std::hypot(t.sigma, 2 * pi * t.hz);
}

/// The Fisher matrix of all samples, not of the blocks that the fit may use: exact, from the truth. Bounds of ω and σ in
/// SI, of ring k.
std::pair<double, double> bounds(const std::vector<Truth>& truth, int samples, double step_s, double noise,
                                 size_t k) {
    std::vector<DampedTerm> terms;
    Eigen::VectorXd y = Eigen::VectorXd::Zero(samples);
    for (const Truth& t : truth) {
        terms.push_back({t.sigma * step_s, 2 * pi * t.hz * step_s, true});
        for (int n = 0; n < samples; ++n)
            y(n) += t.amplitude * std::exp(-t.sigma * n * step_s) *
                    std::cos(2 * pi * t.hz * n * step_s + t.phase);
    }
    const auto fit = fit_separable(damped_model(terms, 0, samples), y, parameters_of(terms));
    REQUIRE(fit);
    const auto at = static_cast<Eigen::Index>(2 * k);
    return {noise * std::sqrt(fit->covariance(at + 1, at + 1)) / step_s,
            noise * std::sqrt(fit->covariance(at, at)) / step_s};
}

std::vector<Scatter> scatter(const std::vector<Truth>& truth, int samples, double step_s, double noise,
                             int trials) {
    const auto signal = [&](double t) {
        double out = 0;
        for (const Truth& r : truth)
            out += r.amplitude * std::exp(-r.sigma * t) * std::cos(2 * pi * r.hz * t + r.phase);
        return out;
    };
    std::vector<Scatter> out(truth.size());
    std::vector<double> frequency(truth.size()), sigma(truth.size());
    for (int trial = 0; trial < trials; ++trial) {
        const RingFit fit =
            fit_ring(rings::record(samples, step_s, signal, noise, 1000 + static_cast<std::uint64_t>(trial)));
        REQUIRE(fit.rings.size() == truth.size());
        for (size_t k = 0; k < truth.size(); ++k) {
            const FittedRing& r = fit.rings[k];
            const double omega = 2 * pi * r.frequency_hz;
            const double found = r.damping_ratio * omega / std::sqrt(1 - r.damping_ratio * r.damping_ratio);
            frequency[k] += std::pow(omega - 2 * pi * truth[k].hz, 2) / trials;
            sigma[k] += std::pow(found - truth[k].sigma, 2) / trials;
            const double pull_f = (r.frequency_hz - truth[k].hz) / r.frequency_error_hz,
                         pull_z = (r.damping_ratio - damping_ratio(truth[k])) / r.damping_error;
            out[k].beyond_three += ((std::abs(pull_f) > 3) + (std::abs(pull_z) > 3)) / (2.0 * trials);
            out[k].pulls += (pull_f * pull_f + pull_z * pull_z) / (2.0 * trials);
        }
    }
    for (size_t k = 0; k < truth.size(); ++k) {
        const auto [bound_omega, bound_sigma] = bounds(truth, samples, step_s, noise, k);
        out[k].frequency = bound_omega * bound_omega / frequency[k];
        out[k].damping = bound_sigma * bound_sigma / sigma[k];
    }
    return out;
}

/// Of 400 trials a variance is known to 7 %: 0.8 is three of that below 1.
void check_efficient(const std::vector<Scatter>& rings) {
    for (size_t k = 0; k < rings.size(); ++k) {
        CAPTURE(k);
        CAPTURE(rings[k].frequency);
        CAPTURE(rings[k].damping);
        CAPTURE(rings[k].pulls);
        CHECK(rings[k].frequency > 0.8);
        CHECK(rings[k].damping > 0.8);
        CHECK(rings[k].frequency < 1.25);
        CHECK(rings[k].damping < 1.25);
        CHECK(rings[k].beyond_three < 0.01);
        CHECK(rings[k].pulls > 0.8);
        CHECK(rings[k].pulls < 1.2);
    }
}

}  // namespace

TEST_CASE("a damped sinusoid at 20 dB is estimated near its bound, and within its stated errors") {
    const double omega = 2 * pi * 100e6;
    check_efficient(scatter({{100e6, 0.02 * omega, 1, 0.3}}, 600, 0.2e-9, 0.1, 400));
}

TEST_CASE("two modes at 20 dB are estimated near their bounds, and within their stated errors") {
    check_efficient(scatter({{1, 0.1, 1, 0}, {7, 0.125, 0.25, pi / 8}}, 114, 1.0 / 56, 0.1, 400));
}

TEST_CASE("a heavily damped ring beside an offset is estimated near its bound") {
    const double omega = 2 * pi * 80e6;
    check_efficient(scatter({{80e6, 0.15 * omega, 1, 1.0}}, 400, 0.25e-9, 0.02, 400));
}

TEST_CASE("in noise of a limited bandwidth the stated errors are still the scatter") {
    // First-order low pass at a twentieth of the sampling rate; the ring is within it, where noise is stronger than
    // its mean.
    const auto ring = rings::ring(130e6, 0.01, 1, 0.2);
    constexpr int trials = 100;
    double pulls = 0, enlarged = 0;
    int more = 0;
    for (int trial = 0; trial < trials; ++trial) {
        Noise next(7000 + static_cast<std::uint64_t>(trial));
        double low = 0;
        for (int k = 0; k < 50; ++k) low += 0.3 * (next() - low);
        const auto signal = [&](double t) {
            low += 0.3 * (next() - low);
            return ring(t) + 0.05 * low;
        };
        const RingFit fit = fit_ring(rings::record(2000, 0.1e-9, signal));
        more += fit.rings.size() > 1;
        const double f = (fit.rings[0].frequency_hz - 130e6) / fit.rings[0].frequency_error_hz,
                     z = (fit.rings[0].damping_ratio - 0.01) / fit.rings[0].damping_error;
        pulls += (f * f + z * z) / (2 * trials);
        enlarged += fit.errors_enlarged / trials;
    }
    CAPTURE(enlarged);
    CAPTURE(pulls);
    CAPTURE(more);
    CHECK(more <= 2);
    CHECK(enlarged > 1.1);
    CHECK(pulls > 0.7);  // of 200 its standard deviation is 0.1
    CHECK(pulls < 1.35);
}

#endif
