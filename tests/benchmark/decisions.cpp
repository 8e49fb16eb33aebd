// What a decision costs against the verdict it starts from, in the same run: `explain` in plain checks,
// `choose` in sizings of the gate resistor.
#include <benchmark/benchmark.h>

#include <cmath>
#include <string>

#include "lapack.h"
#include "ringquell/check.h"
#include "ringquell/choose.h"
#include "ringquell/explain.h"
#include "ringquell/read_case.h"

using namespace ringquell;

namespace {

Case demonstration(const std::string& name) {
    return read_case(std::string(RINGQUELL_CASES) + "/" + name + ".yaml");
}

template <class F>
double seconds(F&& run) {
    const double start = lapack::now_s();
    run();
    return lapack::now_s() - start;
}

void explain_in_checks(benchmark::State& state, const std::string& name) {
    const Case input = demonstration(name);
    std::vector<double> plain, without, with;
    for (auto _ : state) {
        plain.push_back(seconds([&] { benchmark::DoNotOptimize(check(input)); }));
        without.push_back(seconds([&] { benchmark::DoNotOptimize(explain(input, {false})); }));
        with.push_back(seconds([&] { benchmark::DoNotOptimize(explain(input, {true})); }));
        state.SetIterationTime(with.back());
    }
    const double check_s = lapack::median(plain);
    state.counters["check_ms"] = 1e3 * check_s;
    state.counters["checks_without_values"] = lapack::median(without) / check_s;
    state.counters["checks_with_values"] = lapack::median(with) / check_s;
}

/// Twenty beads, from a tenth of the fitted size to ten times it.
ChooseOptions twenty_beads() {
    ChooseOptions out;
    for (int k = 0; k < 20; ++k) {
        const double size = std::pow(10.0, (k - 10) / 10.0);
        Bead bead;
        bead.dc_resistance_ohm = 0.02;
        bead.capacitance_f = 0.5e-12;
        bead.sections = {{30 * size, 80e-9 * size}, {20 * size, 15e-9 * size}};
        out.beads.push_back({"bead " + std::to_string(k + 1), bead});
    }
    return out;
}

void choose_in_sizings(benchmark::State& state, const std::string& name) {
    const Case input = demonstration(name);
    const ChooseOptions options = twenty_beads();
    std::vector<double> sizing, choosing;
    for (auto _ : state) {
        double all = 0;
        for (const BeadCandidate& bead : options.beads) {
            Case with_bead = input;
            for (Position& p : with_bead.positions) p.gate_path.bead = bead.bead;
            CheckOptions plain;
            plain.follow_modes = false;
            all += seconds([&] { benchmark::DoNotOptimize(check(with_bead, plain)); });
        }
        sizing.push_back(all / static_cast<double>(options.beads.size()));
        choosing.push_back(seconds([&] { benchmark::DoNotOptimize(choose(input, options)); }));
        state.SetIterationTime(choosing.back());
    }
    state.counters["sizing_ms"] = 1e3 * lapack::median(sizing);
    state.counters["sizings"] = lapack::median(choosing) / lapack::median(sizing);
    state.SetLabel("20 beads and no bead, each with the whole E24 series; a sizing is `size` of both edges");
}

BENCHMARK_CAPTURE(explain_in_checks, alike, "ropeway-first")
    ->UseManualTime()
    ->Iterations(5)
    ->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(explain_in_checks, cascode, "ice-rink-cascode")
    ->UseManualTime()
    ->Iterations(5)
    ->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(explain_in_checks, uneven, "mine-hoist-bus")
    ->UseManualTime()
    ->Iterations(1)
    ->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(choose_in_sizings, alike, "ropeway-first")
    ->UseManualTime()
    ->Iterations(3)
    ->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(choose_in_sizings, cascode, "ice-rink-cascode")
    ->UseManualTime()
    ->Iterations(3)
    ->Unit(benchmark::kMillisecond);

}  // namespace
