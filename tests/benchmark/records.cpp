// Ten records of a million samples, read and fitted, against a plain loop of std::from_chars over the same files.
// Needed: at most ten times, and below 200 MiB.
#include <benchmark/benchmark.h>
#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <numbers>
#include <sstream>
#include <string>
#include <vector>

#include "lapack.h"
#include "ringquell/ring_fit.h"
#include "support/noise.h"

using namespace ringquell;

namespace {

constexpr int records = 10, samples = 1000000;

/// Rings of 60 to 150 MHz at 10 GS/s that begin with the record or, every other one, fill it; 1 % noise.
void write_records(const std::filesystem::path& folder) {
    for (int k = 0; k < records; ++k) {
        Noise noise(static_cast<std::uint64_t>(k) + 1);
        const double omega = 2 * std::numbers::pi * (60e6 + 10e6 * k),
                     sigma = k % 2 == 0 ? 0.02 * omega : 2e4;
        std::string text = "t,v\n";
        for (int n = 0; n < samples; ++n) {
            const double t = 1e-10 * n;
            const double v = std::exp(-sigma * t) * std::cos(omega * t) + 0.01 * noise();
            fmt::format_to(std::back_inserter(text), "{:.6e},{:.5f}\n", t, v);
        }
        std::ofstream(folder / fmt::format("{}.csv", k), std::ios::binary) << text;
    }
}

/// Every number of a file, and nothing else.
double plain_sum(const std::string& file) {
    std::ifstream in(file, std::ios::binary);
    std::string text(std::filesystem::file_size(file), '\0');
    in.read(text.data(), static_cast<std::streamsize>(text.size()));
    const char *at = text.data(), *end = at + text.size();
    double sum = 0;
    while (at < end) {
        double value = 0;
        const auto [next, error] = std::from_chars(at, end, value);
        sum += value;
        at = error == std::errc() ? next + 1 : at + 1;
    }
    return sum;
}

/// The most memory that the process has had since the last call of reset_peak(), in MiB.
double peak_mib() {
    std::ifstream in("/proc/self/status");
    for (std::string line; std::getline(in, line);)
        if (line.starts_with("VmHWM:")) return std::stod(line.substr(6)) / 1024;
    return 0;
}

void reset_peak() {
    std::ofstream("/proc/self/clear_refs") << "5";
}

void records_against_from_chars(benchmark::State& state) {
    const auto folder = std::filesystem::temp_directory_path() / "ringquell-records";
    std::filesystem::create_directories(folder);
    write_records(folder);
    double plain = 0, whole = 0, reading = 0, worst = 0, most_mib = 0;
    for (auto _ : state) {
        double all = 0;
        for (int k = 0; k < records; ++k) {
            const std::string file = (folder / fmt::format("{}.csv", k)).string();
            const double start = lapack::now_s();
            benchmark::DoNotOptimize(plain_sum(file));
            const double middle = lapack::now_s();
            reset_peak();
            const Waveform record = read_waveform(file);
            const double read = lapack::now_s();
            benchmark::DoNotOptimize(fit_ring(record));
            const double end = lapack::now_s();
            most_mib = std::max(most_mib, peak_mib());
            worst = std::max(worst, (end - middle) / (middle - start));
            plain += middle - start;
            reading += read - middle;
            whole += end - middle;
            all += end - middle;
        }
        state.SetIterationTime(all);
    }
    std::filesystem::remove_all(folder);
    state.counters["times_from_chars"] = whole / plain;
    state.counters["worst_of_one"] = worst;
    state.counters["reading_alone"] = reading / plain;
    state.counters["MiB"] = most_mib;
    state.SetLabel("ten files of 1e6 samples, read and fitted, against from_chars over the same files");
}
BENCHMARK(records_against_from_chars)->UseManualTime()->Iterations(1)->Unit(benchmark::kMillisecond);

}  // namespace
