// Uneven positions along buses: what misses the target with the proof that nothing else does, against dgeev
// on the same network's reduced matrix; and what a factorisation costs as the network grows.
#include <benchmark/benchmark.h>

#include <numbers>
#include <vector>

#include "lapack.h"
#include "modes/sparse_modes.h"
#include "network/reducer.h"
#include "numerics/batched_determinant.h"
#include "ringquell/network.h"
#include "ringquell/operating_path.h"
#include "ringquell/read_case.h"
#include "support/ladder_case.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

ladder::Options board(int positions) {
    ladder::Options options;
    options.positions = positions;
    options.gate_resistor_ohm = 10;
    options.weak_from = positions / 3;
    options.weak_count = 4;
    options.damped = true;
    return options;
}

void all_that_miss(benchmark::State& state) {
    const Case input = read_case_text(ladder::text(board(static_cast<int>(state.range(0)))), "board.yaml");
    const Network network = build_network(input, operating_path(input).points[0]);
    const double two_pi = 2 * std::numbers::pi;
    const Sector band{two_pi * input.require.band_low_hz, two_pi * input.require.band_high_hz,
                      input.require.differential_damping};
    SectorModes found;
    std::vector<double> ours, values, vectors;
    Reducer reducer(network);
    reducer.evaluate(network);
    for (auto _ : state) {
        double start = lapack::now_s();
        SparseModeSolver solver(input.n());  // everything anew: ordering, plans, counts, modes
        solver.set(network);
        found = solver.find(band);
        ours.push_back(lapack::now_s() - start);
        state.SetIterationTime(ours.back());
        for (bool with_vectors : {false, true}) {
            Eigen::MatrixXd a = reducer.a();
            start = lapack::now_s();
            benchmark::DoNotOptimize(lapack::dgeev(a, with_vectors));
            (with_vectors ? vectors : values).push_back(lapack::now_s() - start);
        }
    }
    state.counters["states"] = static_cast<double>(reducer.a().rows());
    state.counters["missing_modes"] = static_cast<double>(found.modes.size());
    state.counters["counted"] = found.counted;
    state.counters["determinants"] = static_cast<double>(found.determinants);
    state.counters["dgeev_ms"] = lapack::median(values) * 1e3;
    state.counters["dgeev_vectors_ms"] = lapack::median(vectors) * 1e3;
    state.counters["times_dgeev"] = lapack::median(values) / lapack::median(ours);
    state.counters["times_with_vectors"] = lapack::median(vectors) / lapack::median(ours);
    state.SetLabel(
        "against LAPACK dgeev, values only and with vectors, on the reduced matrix; its reduction not "
        "counted");
}

void factorisation(benchmark::State& state) {
    const Case input = read_case_text(ladder::text(board(static_cast<int>(state.range(0)))), "board.yaml");
    const Network network = build_network(input, operating_path(input).points[0]);
    PencilLu lu(network.e() * natural, network.a());
    std::complex<double> lambda(-0.1, 1);
    for (auto _ : state) {
        lambda *= 1.0001;
        benchmark::DoNotOptimize(lu.factor(lambda));
    }
    state.counters["unknowns"] = lu.size();
    state.counters["entries"] = static_cast<double>(lu.entries_in_factors());
    state.counters["entries_per_position"] =
        static_cast<double>(lu.entries_in_factors()) / static_cast<double>(state.range(0));
    state.counters["megabytes"] =
        static_cast<double>(lu.entries_in_factors()) * sizeof(std::complex<double>) / 1e6;
    state.SetComplexityN(state.range(0));
}

void determinants(benchmark::State& state) {
    const Case input = read_case_text(ladder::text(board(static_cast<int>(state.range(0)))), "board.yaml");
    const Network network = build_network(input, operating_path(input).points[0]);
    PencilLu lu(network.e() * natural, network.a());
    BatchedDeterminant determinant(lu);
    std::vector<std::complex<double>> lambdas;
    for (int k = 0; k < BatchedDeterminant::lanes; ++k) lambdas.emplace_back(-0.1, 1 + 0.01 * k);
    for (auto _ : state) benchmark::DoNotOptimize(determinant.log_determinants(lambdas));
    state.SetComplexityN(state.range(0));
    state.SetLabel("eight at once");
}

}  // namespace

BENCHMARK(all_that_miss)->Arg(256)->UseManualTime()->Iterations(5)->Unit(benchmark::kMillisecond);
BENCHMARK(factorisation)->RangeMultiplier(2)->Range(64, 1024)->Unit(benchmark::kMicrosecond)->Complexity();
BENCHMARK(determinants)->RangeMultiplier(2)->Range(64, 1024)->Unit(benchmark::kMicrosecond)->Complexity();
