// What curves cost: reading the case, walking 48 points from a datasheet's curves and solving them, against
// solving the same 48 points with their device values given. Needed: at most twice.
#include <benchmark/benchmark.h>

#include <chrono>
#include <string>

#include "ringquell/modes.h"
#include "ringquell/operating_path.h"
#include "ringquell/read_case.h"

namespace {

using namespace ringquell;

const std::string file = RINGQUELL_CASES "/ski-lift-curves.yaml";
const std::vector<std::string> twelve_steps{
    "operation.path.steps=12", "operation.junction_temperature=125 degC",
    "gate_path.bead={file: parts/bead-sections.yaml}"};  // four stages: 48 points

double solve_all(const Case& input, const OperatingPath& path) {
    ModeSolver solver(input);
    double sum = 0;
    for (const OperatingPoint& point : path.points) sum += solver.solve(point).modes.front().damping_ratio();
    return sum;
}

void curves_against_fixed(benchmark::State& state) {
    using Clock = std::chrono::steady_clock;
    const Case fixed = read_case(file, twelve_steps);
    const OperatingPath given = operating_path(fixed);
    double with_curves = 0, with_values = 0;
    for (auto _ : state) {
        const auto start = Clock::now();
        const Case input = read_case(file, twelve_steps);
        benchmark::DoNotOptimize(solve_all(input, operating_path(input)));
        const auto middle = Clock::now();
        benchmark::DoNotOptimize(solve_all(fixed, given));
        const auto end = Clock::now();
        with_curves += std::chrono::duration<double>(middle - start).count();
        with_values += std::chrono::duration<double>(end - middle).count();
        state.SetIterationTime(std::chrono::duration<double>(middle - start).count());
    }
    state.counters["points"] = static_cast<double>(given.points.size());
    state.counters["times_fixed"] = with_curves / with_values;
    state.SetLabel("against the same points with fixed values");
}
BENCHMARK(curves_against_fixed)->UseManualTime()->Iterations(20)->Unit(benchmark::kMicrosecond);

}  // namespace
