// A whole run of `spread` against a loop of dggev on the pencils of the same samples and points, one thread;
// and two threads against one.
#include <benchmark/benchmark.h>

#include <string>

#include "case/sampled_case.h"
#include "lapack.h"
#include "network/reducer.h"
#include "ringquell/check.h"
#include "ringquell/network.h"
#include "ringquell/operating_path.h"
#include "ringquell/read_case.h"
#include "ringquell/spread.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

/// The demonstration case with beads, its tolerances the typical ones: every sample's positions differ. 48
/// points.
Case varied(int positions) {
    return read_case(std::string(RINGQUELL_CASES) + "/ropeway-cured.yaml",
                     {"positions=" + std::to_string(positions), "operation.path.steps=12", "spread=typical"});
}

double run_s(const Case& input, std::int64_t samples, int threads) {
    SpreadOptions options;
    options.samples = samples;
    options.threads = threads;
    const double start = lapack::now_s();
    benchmark::DoNotOptimize(spread(input, options));
    return lapack::now_s() - start;
}

/// Seconds that dggev takes for one pencil, over every point of the first samples.
double dggev_s(const Case& input, int samples, int& unknowns) {
    const SampleSpace space(input);
    SampledCase sampled(space);
    std::vector<double> u(space.draws().size());
    double seconds = 0;
    int count = 0;
    for (int k = 0; k < samples; ++k) {
        space.uniforms(1, static_cast<std::uint64_t>(k), 0, u.data());
        sampled.set(u.data());
        for (const OperatingPoint& point : operating_path(sampled.input()).points) {
            const Network network = build_network(sampled.input(), point);
            Eigen::MatrixXd e = Eigen::MatrixXd(network.e()) * natural, a = Eigen::MatrixXd(network.a());
            unknowns = static_cast<int>(a.rows());
            const double start = lapack::now_s();
            benchmark::DoNotOptimize(lapack::dggev(a, e));
            seconds += lapack::now_s() - start;
            ++count;
        }
    }
    return seconds / count;
}

void samples_against_dggev(benchmark::State& state) {
    const auto positions = static_cast<int>(state.range(0));
    const Case input = varied(positions);
    const auto points = static_cast<double>(operating_path(input).points.size());
    const std::int64_t samples = positions > 4 ? 512 : 2048;
    std::vector<double> ours, theirs, two;
    int unknowns = 0;
    for (auto _ : state) {
        ours.push_back(run_s(input, samples, 1));
        theirs.push_back(dggev_s(input, positions > 4 ? 2 : 5, unknowns) * points *
                         static_cast<double>(samples));
        two.push_back(run_s(input, samples, 2));
        state.SetIterationTime(ours.back());
    }
    state.counters["unknowns"] = unknowns;
    state.counters["points"] = points;
    state.counters["us_per_solve"] = lapack::median(ours) / points / static_cast<double>(samples) * 1e6;
    state.counters["dggev_us"] = lapack::median(theirs) / points / static_cast<double>(samples) * 1e6;
    state.counters["times_dggev"] = lapack::median(theirs) / lapack::median(ours);
    state.counters["two_threads"] = lapack::median(ours) / lapack::median(two);
    state.SetLabel("the whole run against LAPACK dggev, values only, on the same pencils");
}
BENCHMARK(samples_against_dggev)
    ->Arg(4)
    ->Arg(8)
    ->UseManualTime()
    ->Iterations(3)
    ->Unit(benchmark::kMillisecond);

/// 256 uneven positions along buses: a check of 48 points, on all processors, in single first points on one.
void many_positions(benchmark::State& state, const std::string& cure) {
    const Case input =
        read_case(std::string(RINGQUELL_CASES) + "/mine-hoist-bus.yaml",
                  {"positions=256", "operation.path.steps=12", "operation.load_current=11520 A", cure});
    const auto points = operating_path(input).points;
    std::vector<double> first, all;
    for (auto _ : state) {
        ModeSolver fresh(input);
        double start = lapack::now_s();
        benchmark::DoNotOptimize(fresh.solve(points.front()));
        first.push_back(lapack::now_s() - start);
        CheckOptions plain;
        plain.size_gate_resistor = plain.follow_modes = false;
        start = lapack::now_s();
        benchmark::DoNotOptimize(check(input, plain));
        all.push_back(lapack::now_s() - start);
        state.SetIterationTime(all.back());
    }
    state.counters["points"] = static_cast<double>(points.size());
    state.counters["first_ms"] = 1e3 * lapack::median(first);
    state.counters["first_points"] = lapack::median(all) / lapack::median(first);
}
BENCHMARK_CAPTURE(many_positions, some_miss, "gate_path.resistor=15 ohm")
    ->UseManualTime()
    ->Iterations(3)
    ->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(many_positions, with_beads,
                  "gate_path.bead={dc_resistance: 20 mohm, resistance: 30 ohm, inductance: 80 nH}")
    ->UseManualTime()
    ->Iterations(3)
    ->Unit(benchmark::kMillisecond);

}  // namespace
