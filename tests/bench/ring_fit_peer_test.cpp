// harminv, another method by other authors (filter diagonalisation; V. A. Mandelshtam, H. S. Taylor, J. Chem. Phys. 107
// (1997) 6756, as its manual has it: read), run beside ours.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <numbers>
#include <sstream>

#include "ringquell/ring_fit.h"
#include "support/relative.h"
#include "support/rings.h"
#include "support/run_command.h"

using namespace ringquell;

namespace {

constexpr double pi = std::numbers::pi;

bool present() {
    const bool there = std::system("command -v harminv >/dev/null 2>&1") == 0;
    if (!there) MESSAGE("harminv is not installed: nothing compared");
    return there;
}

struct Mode {
    double frequency, decay, amplitude;
};

/// What it finds between two frequencies, counted in 1/step.
std::vector<Mode> harminv(const Waveform& w, double low, double high) {
    const Folder folder;
    std::ofstream out(folder / "record");
    out.precision(17);
    for (const double v : w.value) out << v << '\n';
    out.close();
    const double step = w.time_s[1] - w.time_s[0];
    std::ostringstream line;
    line.precision(17);
    line << "harminv -t 1 " << low * step << '-' << high * step << " <'" << folder / "record"
         << "' >'" << folder / "modes"
         << "'";
    REQUIRE(std::system(line.str().c_str()) == 0);
    std::istringstream rows(content(folder / "modes"));
    std::vector<Mode> modes;
    for (std::string row; std::getline(rows, row);) {
        Mode m{};
        double q = 0;
        if (std::sscanf(row.c_str(), "%lf, %lf, %lf, %lf", &m.frequency, &m.decay, &q, &m.amplitude) == 4 &&
            m.frequency > 0)
            modes.push_back({m.frequency / step, m.decay / step, m.amplitude});
    }
    return modes;
}

Mode nearest(const std::vector<Mode>& modes, double frequency) {
    REQUIRE_FALSE(modes.empty());
    return *std::min_element(modes.begin(), modes.end(), [&](const Mode& a, const Mode& b) {
        return std::abs(a.frequency - frequency) < std::abs(b.frequency - frequency);
    });
}

double decay(const FittedRing& r) {
    return 2 * pi * r.frequency_hz * r.damping_ratio / std::sqrt(1 - r.damping_ratio * r.damping_ratio);
}

}  // namespace

TEST_CASE("harminv and the fit agree on two modes without noise") {
    if (!present()) return;
    const auto signal = [](double t) {
        return std::exp(-0.1 * t) * std::cos(2 * pi * t) +
               0.25 * std::exp(-0.125 * t) * std::cos(14 * pi * t + pi / 8);
    };
    const Waveform w = rings::record(114, 1.0 / 56, signal);
    const RingFit fit = fit_ring(w);
    const auto theirs = harminv(w, 0.1, 20);
    REQUIRE(fit.rings.size() == 2);
    for (const FittedRing& ring : fit.rings) {
        const Mode mode = nearest(theirs, ring.frequency_hz);
        CHECK_RELATIVE(mode.frequency, ring.frequency_hz, 1e-5);
        CHECK_RELATIVE(mode.decay, decay(ring), 1e-3);
    }
}

TEST_CASE("harminv and the fit agree on a noisy ring within the errors that the fit states") {
    if (!present()) return;
    const Waveform w = rings::record(600, 0.2e-9, rings::ring(100e6, 0.02, 1, 0.3), 0.01, 5);
    const RingFit fit = fit_ring(w);
    REQUIRE(fit.rings.size() == 1);
    const FittedRing& ring = fit.rings[0];
    const Mode mode = nearest(harminv(w, 50e6, 200e6), ring.frequency_hz);
    // It is not efficient: its own scatter is allowed to be some times the bound.
    constexpr double some = 6;
    CHECK(std::abs(mode.frequency - ring.frequency_hz) < some * ring.frequency_error_hz);
    CHECK(std::abs(mode.decay - decay(ring)) < some * 2 * pi * ring.frequency_hz * ring.damping_error);
}
