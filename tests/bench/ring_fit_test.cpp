// Rings with known answers, fitted; what spoils a record is said or refused.
#include "ringquell/ring_fit.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "support/relative.h"
#include "support/rings.h"

using namespace ringquell;
using rings::record, rings::ring;

namespace {

constexpr double pi = std::numbers::pi;

bool remarks(const RingFit& fit, const std::string& text) {
    return std::any_of(fit.remarks.begin(), fit.remarks.end(),
                       [&](const std::string& r) { return r.find(text) != std::string::npos; });
}

std::string error_of(const Waveform& w, RingFitOptions options = {}) {
    options.place = Place{"bench.yaml", 7, 3};
    try {
        fit_ring(w, options);
    } catch (const InputError& error) {
        return error.what();
    }
    return "no error";
}

}  // namespace

TEST_CASE("one ring without noise is told to the last digits, whatever its damping") {
    for (const double zeta : {0.0, 0.002, 0.05, 0.3, -0.01}) {
        CAPTURE(zeta);
        const RingFit fit = fit_ring(record(1200, 0.2e-9, ring(100e6, zeta, 1.5, 0.7)));
        REQUIRE(fit.rings.size() == 1);
        CHECK_RELATIVE(fit.rings[0].frequency_hz, 100e6, 1e-10);
        CHECK(std::abs(fit.rings[0].damping_ratio - zeta) < 1e-10);
        CHECK_RELATIVE(fit.rings[0].amplitude, 1.5, 1e-9);
        CHECK(std::abs(fit.rings[0].phase_rad - 0.7) < 1e-9);
        CHECK(std::abs(fit.offset) < 1e-9);
        CHECK(fit.samples == 1200);
    }
}

TEST_CASE("two modes of 1 and 7 Hz are told to 1e-9") {
    // github ecdg0/MSc-Electrical-Engineering-Coursework, MATRIX_PENCIL.m (its signal as our notes have it).
    const auto signal = [](double t) {
        return std::exp(-0.1 * t) * std::cos(2 * pi * t) +
               0.25 * std::exp(-0.125 * t) * std::cos(14 * pi * t + pi / 8);
    };
    const RingFit fit = fit_ring(record(114, 1.0 / 56, signal));
    REQUIRE(fit.rings.size() == 2);
    CHECK_RELATIVE(fit.rings[0].frequency_hz, 1.0, 1e-9);
    CHECK_RELATIVE(fit.rings[1].frequency_hz, 7.0, 1e-9);
    const auto zeta = [](double sigma, double hz) { return sigma / std::hypot(sigma, 2 * pi * hz); };
    CHECK_RELATIVE(fit.rings[0].damping_ratio, zeta(0.1, 1), 1e-9);
    CHECK_RELATIVE(fit.rings[1].damping_ratio, zeta(0.125, 7), 1e-9);
    CHECK_RELATIVE(fit.rings[1].amplitude, 0.25, 1e-9);
    CHECK_RELATIVE(fit.rings[1].phase_rad, pi / 8, 1e-9);
}

TEST_CASE("a long record is averaged over blocks, and its poles stay exact") {
    const auto fast = ring(100e6, 0.02, 1, 0.3), slow = ring(0.4e6, 0.03, 0.6, -1);
    const RingFit fit = fit_ring(record(100000, 0.1e-9, [&](double t) { return fast(t) + slow(t) + 5; }));
    REQUIRE(fit.rings.size() == 2);
    CHECK(fit.samples_per_point > 3);
    CHECK_RELATIVE(fit.rings[0].frequency_hz, 0.4e6, 1e-8);
    CHECK_RELATIVE(fit.rings[0].damping_ratio, 0.03, 1e-8);
    CHECK_RELATIVE(fit.rings[1].frequency_hz, 100e6, 1e-8);
    CHECK_RELATIVE(fit.rings[1].damping_ratio, 0.02, 1e-7);
    CHECK_RELATIVE(fit.rings[1].amplitude, 1.0, 1e-7);
    CHECK_RELATIVE(fit.offset, 5.0, 1e-8);
    CHECK(fit.shown_time_s.size() <= 2000);
    CHECK(fit.shown_time_s.size() == fit.shown_fit.size());
    for (size_t k = 0; k < fit.shown_fit.size(); ++k)
        CHECK(std::abs(fit.shown_fit[k] - fit.shown_value[k]) < 1e-6);
}

TEST_CASE("two modes within their widths are told apart, and said to be close") {
    const auto a = ring(100e6, 0.02, 1, 0.3), b = ring(104e6, 0.025, 0.6, 1);
    const RingFit fit = fit_ring(record(
        1200, 0.2e-9, [&](double t) { return a(t) + b(t); }, 0.01));
    REQUIRE(fit.rings.size() == 2);
    CHECK(std::abs(fit.rings[0].frequency_hz - 100e6) < 3 * fit.rings[0].frequency_error_hz);
    CHECK(std::abs(fit.rings[1].frequency_hz - 104e6) < 3 * fit.rings[1].frequency_error_hz);
    CHECK(remarks(fit,
                  "100 MHz and 104 MHz lie within their widths: two modes so close, or one ring that moves"));
}

TEST_CASE("a window is cut from the record, and a ring's amplitude is that at the window's start") {
    const Waveform w = record(
        4000, 0.2e-9, [](double t) { return t < 100e-9 ? 3.0 : ring(80e6, 0.03, 2)(t - 100e-9); }, 0.002);
    RingFitOptions options;
    options.from_s = 120e-9;
    options.to_s = 300e-9;
    const RingFit fit = fit_ring(w, options);
    CHECK_RELATIVE(fit.from_s, 120e-9, 1e-9);
    CHECK_RELATIVE(fit.to_s, 300e-9, 1e-2);
    REQUIRE(fit.rings.size() == 1);
    const double omega = 2 * pi * 80e6, sigma = omega * 0.03 / std::sqrt(1 - 0.03 * 0.03);
    CHECK(std::abs(fit.rings[0].frequency_hz - 80e6) < 4 * fit.rings[0].frequency_error_hz);
    CHECK(std::abs(fit.rings[0].amplitude - 2 * std::exp(-sigma * 20e-9)) < 4 * fit.rings[0].amplitude_error);
    CHECK(fit.remarks.empty());
}

TEST_CASE("noise alone is refused, with what varies there") {
    int refused = 0;
#ifdef RINGQUELL_SANITIZED
    constexpr int records = 10;
#else
    constexpr int records = 200;
#endif
    for (int seed = 1; seed <= records; ++seed)
        refused +=
            error_of(record(
                         1000, 0.2e-9, [](double) { return 0.0; }, 0.1, static_cast<std::uint64_t>(seed)))
                .find("nothing rings between") != std::string::npos;
    CHECK(refused >= records - 1);
    CHECK(error_of(record(1000, 0.2e-9, [](double) { return 2.0; })) ==
          "bench.yaml:7:3: nothing rings between 0 s and 199.8 ns: what varies there is 0 rms; expected a "
          "ring of two "
          "periods or more, from the window's start on");
}

TEST_CASE("a window that begins before the edge is refused with the edge's time") {
    const auto late = [](double t) { return t < 200e-9 ? 1.0 : ring(90e6, 0.03, 3)(t - 200e-9); };
    const Waveform w = record(3000, 0.2e-9, late, 0.02);
    CHECK(error_of(w) ==
          "bench.yaml:7:3: from: found an edge at 200 ns, within the window: a ring begins there; expected a "
          "window that "
          "begins after it");
    RingFitOptions options;
    options.from_s = 201e-9;
    CHECK_RELATIVE(fit_ring(w, options).rings[0].frequency_hz, 90e6, 1e-3);
}

TEST_CASE("a ring whose frequency moves is said to move, and stands still where it does") {
    // 5 % faster at first, as capacitances move; from 150 ns on it has its end frequency to 0.05 %.
    const auto moving = [](double t) {
        const double turns = 100e6 * t + 0.05 * 100e6 * 30e-9 * (1 - std::exp(-t / 30e-9));
        return std::exp(-0.01 * 2 * pi * 100e6 * t) * std::cos(2 * pi * turns);
    };
    const RingFit fit = fit_ring(record(2000, 0.2e-9, moving, 0.002));
    REQUIRE(fit.steady);
    CHECK(fit.steady->first > 50e-9);
    CHECK(remarks(fit, "frequency or damping of the strongest ring moves (from "));
    CHECK_RELATIVE(fit.starts.back().ring.frequency_hz, 100e6, 2e-3);
    const RingFit still = fit_ring(record(2000, 0.2e-9, ring(100e6, 0.01), 0.002));
    REQUIRE(still.steady);
    CHECK(still.steady->first == 0);
    CHECK(still.steady->second == still.starts.back().from_s);
    CHECK(still.starts.size() == 13);
    CHECK(still.remarks.empty());
}

TEST_CASE("growth, few periods, slow sampling and clipping are said") {
    CHECK(remarks(fit_ring(record(1200, 0.2e-9, ring(100e6, -0.01, 0.01), 0.001)), "100 MHz grows"));
    CHECK(remarks(fit_ring(record(75, 0.2e-9, ring(100e6, 0.02), 0.001)),
                  "the window holds only 1.5 periods of 100 MHz: its frequency and damping lean on what is "
                  "assumed of the "
                  "base line; take two periods or more"));
    CHECK(remarks(fit_ring(record(200, 3e-9, ring(100e6, 0.01), 0.001)),
                  "100 MHz is sampled only 3.3 times a period"));
    CHECK(remarks(fit_ring(record(300, 4.9e-9, ring(100e6, 0.005), 0.001)),
                  "something swings near 102 MHz, half the "
                  "sampling rate"));
    const auto whole = ring(100e6, 0.02);
    const auto cut = [&](double t) { return std::min(0.7, whole(t)); };
    CHECK(remarks(fit_ring(record(1200, 0.2e-9, cut)),
                  "samples in a row stand at the window's highest value, 0.7: "
                  "clipped?"));
    // The steps of a digitiser are no clipping, however finely they are sampled.
    const auto steps = [&](double t) { return std::round(100 * whole(t)) / 100; };
    CHECK_FALSE(remarks(fit_ring(record(6000, 0.04e-9, steps)), "clipped"));
}

TEST_CASE("a base line that moves is fitted beside the ring, and said") {
    const auto still = ring(100e6, 0.02, 1, 0.3);
    for (const bool straight : {true, false}) {
        const auto moved = [&](double t) {
            return still(t) + (straight ? 3e6 * t : 0.5 * std::exp(-t / 100e-9));
        };
        const RingFit fit = fit_ring(record(1200, 0.2e-9, moved, 0.01));
        REQUIRE(fit.rings.size() == 1);
        CHECK(std::abs(fit.rings[0].frequency_hz - 100e6) < 3 * fit.rings[0].frequency_error_hz);
        CHECK(std::abs(fit.rings[0].damping_ratio - 0.02) < 3 * fit.rings[0].damping_error);
        CHECK(remarks(fit, straight ? "the base line moves by 0.7" : "the base line moves by 0.4"));
    }
}

TEST_CASE("what is left over and is no white noise is said") {
    Noise next(3);
    double slow = 0;
    const auto walk = [&](double t) {
        slow += 0.02 * (next() - slow);
        return ring(100e6, 0.02)(t) + 0.5 * slow;
    };
    const RingFit fit = fit_ring(record(2000, 0.2e-9, walk));
    CHECK(fit.whiteness > fit.whiteness_allowed);
    CHECK(remarks(fit, "is no white noise"));
    const RingFit white = fit_ring(record(2000, 0.2e-9, ring(100e6, 0.02), 0.05));
    CHECK(std::abs(white.whiteness) < white.whiteness_allowed);
    CHECK_RELATIVE(white.noise_rms, 0.05, 0.05);
}

TEST_CASE("times that were printed with few digits are taken as even, and no coarser ones") {
    const auto clean = record(1200, 0.25e-9, ring(100e6, 0.02));
    Waveform printed = clean;
    for (double& t : printed.time_s) t = std::round(t * 1e10) / 1e10;
    printed.time_resolution_s = 1e-10;
    const RingFit fit = fit_ring(printed);
    CHECK_RELATIVE(fit.sample_period_s, 0.25e-9, 1e-5);
    CHECK_RELATIVE(fit.rings[0].frequency_hz, 100e6, 1e-5);
    CHECK(remarks(fit, "the times are printed to 100 ps, coarse beside the step of 250 ps: taken as even"));
    printed.time_resolution_s = 0;
    CHECK(error_of(printed).find("expected even steps") != std::string::npos);
}

TEST_CASE("windows and records that cannot be fitted are errors that say what is there") {
    const Waveform w = record(1000, 0.2e-9, ring(100e6, 0.02));
    RingFitOptions options;
    options.from_s = 300e-9;
    options.to_s = 400e-9;
    CHECK(error_of(w, options) ==
          "bench.yaml:7:3: from: found 0 samples between 300 ns and 400 ns; expected 16 or more (the record "
          "runs from 0 s "
          "to 199.8 ns)");
    options.to_s = 200e-9;
    CHECK(error_of(w, options) ==
          "bench.yaml:7:3: from: found a window from 300 ns to 200 ns; expected a later end");
    CHECK(error_of({}) == "bench.yaml:7:3: the record has no samples");
    Waveform gap = w;
    for (size_t k = 500; k < 1000; ++k) gap.time_s[k] += 3e-9;
    CHECK(error_of(gap) ==
          "bench.yaml:7:3: found a time step of 3.2 ns after 99.8 ns, where 200 ps is usual; expected even "
          "steps");
    // Outside the window it does not matter.
    options.from_s = 0;
    options.to_s = 90e-9;
    CHECK(error_of(gap, options) == "no error");
    Waveform odd = w;
    odd.value[20] = std::nan("");
    CHECK(error_of(odd) == "bench.yaml:7:3: sample 21 is not finite; expected a number");
    Waveform back = w;
    back.time_s[30] = back.time_s[28];
    CHECK(error_of(back).find("expected rising times") != std::string::npos);
}
