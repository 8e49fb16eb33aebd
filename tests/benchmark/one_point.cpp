// All modes at one operating point, against dggev (values only) on the pencil of the whole network at the
// same points.
#include <benchmark/benchmark.h>

#include <string>
#include <vector>

#include "lapack.h"
#include "network/reducer.h"
#include "ringquell/modes.h"
#include "ringquell/network.h"
#include "ringquell/operating_path.h"
#include "ringquell/read_case.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

/// The reference pair with a bead in each gate, with more positions; devices differ a little from point to
/// point, as along a walk.
struct Setting {
    Case input;
    std::vector<OperatingPoint> points;
    explicit Setting(int positions, bool uneven) {
        std::vector<std::string> settings{"positions=" + std::to_string(positions)};
        if (uneven) {
            settings.push_back("gate_path[2].inductance=9 nH");
            settings.push_back("source_path[3].inductance=3.5 nH");
            settings.push_back("drain_path[4].inductance=4.4 nH");
        }
        input = read_case(std::string(RINGQUELL_TEST_DATA) + "/reference/pair-with-bead.yaml", settings);
        constexpr int steps = 8;
        for (const OperatingPoint& point : operating_path(input).points)
            for (int k = 0; k < steps; ++k) {
                points.push_back(point);
                for (DeviceValues& v : points.back().devices) v.mosfet.transconductance_s *= 1 - 0.1 * k;
            }
    }
};

struct Pencil {
    Eigen::MatrixXd e, a;
};

std::vector<Pencil> pencils(const Setting& setting) {
    std::vector<Pencil> out;
    for (const OperatingPoint& point : setting.points) {
        const Network network = build_network(setting.input, point);
        out.push_back({Eigen::MatrixXd(network.e()) * natural, Eigen::MatrixXd(network.a())});
    }
    return out;
}

double solve_all(ModeSolver& solver, const std::vector<OperatingPoint>& points) {
    const double start = lapack::now_s();
    for (const OperatingPoint& point : points) {
        Modes modes = solver.solve(point);
        benchmark::DoNotOptimize(modes.modes.data());
    }
    return (lapack::now_s() - start) / static_cast<double>(points.size());
}

void against_dggev(benchmark::State& state, int positions, bool uneven) {
    const Setting setting(positions, uneven);
    const std::vector<Pencil> given = pencils(setting);
    ModeSolver solver(setting.input);
    std::vector<double> ours, theirs;
    solve_all(solver, setting.points);
    for (auto _ : state) {
        ours.push_back(solve_all(solver, setting.points));
        const double start = lapack::now_s();
        for (const Pencil& pencil : given) {
            Eigen::MatrixXd e = pencil.e, a = pencil.a;
            benchmark::DoNotOptimize(lapack::dggev(a, e));
        }
        theirs.push_back((lapack::now_s() - start) / static_cast<double>(given.size()));
        state.SetIterationTime(ours.back());
    }
    state.counters["unknowns"] = static_cast<double>(given[0].e.rows());
    state.counters["dggev_us"] = lapack::median(theirs) * 1e6;
    state.counters["median_us"] = lapack::median(ours) * 1e6;
    state.counters["times_dggev"] = lapack::median(theirs) / lapack::median(ours);
    state.SetLabel("against LAPACK dggev, values only");
}

void sixteen_against_four(benchmark::State& state) {
    const Setting four(4, false), sixteen(16, false);
    ModeSolver solver_four(four.input), solver_sixteen(sixteen.input);
    std::vector<double> time_four, time_sixteen;
    for (auto _ : state) {
        time_four.push_back(solve_all(solver_four, four.points));
        time_sixteen.push_back(solve_all(solver_sixteen, sixteen.points));
        state.SetIterationTime(time_sixteen.back());
    }
    state.counters["four_us"] = lapack::median(time_four) * 1e6;
    state.counters["median_us"] = lapack::median(time_sixteen) * 1e6;
    state.counters["share_of_four"] = lapack::median(time_sixteen) / lapack::median(time_four);
}

}  // namespace

BENCHMARK_CAPTURE(against_dggev, four_alike, 4, false)
    ->UseManualTime()
    ->Iterations(100)
    ->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(against_dggev, four_uneven, 4, true)
    ->UseManualTime()
    ->Iterations(100)
    ->Unit(benchmark::kMicrosecond);
BENCHMARK(sixteen_against_four)
    ->Name("sixteen_alike")
    ->UseManualTime()
    ->Iterations(1000)
    ->Unit(benchmark::kMicrosecond);
