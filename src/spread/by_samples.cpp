// The gate resistor that the samples ask for.
#include <algorithm>
#include <functional>
#include <map>

#include "ringquell/acceptable.h"
#include "ringquell/spread.h"
#include "sizing/e24.h"
#include "spread/sample_team.h"

namespace ringquell {

using namespace internal;

namespace {

/// The share of the first samples that pass on one edge with this gate resistor, common modes left out.
double share_on_edge(Case& input, Edge edge, double ohm, std::int64_t samples, std::uint64_t seed,
                     int threads) {
    input.require.common_damping.reset();
    fit_gate_resistor(input, edge, ohm);
    const SampleSpace space(input);
    const SampleEvaluator evaluator(space, edge);
    SampleTeam team(evaluator, threads, seed);
    team.judge(0, static_cast<int>(samples));
    const auto passed = std::count_if(team.outcomes.begin(), team.outcomes.end(),
                                      [](const SampleOutcome& o) { return o.passes; });
    return static_cast<double>(passed) / static_cast<double>(samples);
}

/// Do all of the first samples pass on the edge? Ends at the first batch with one that does not.
bool all_pass_on_edge(Case& input, Edge edge, double ohm, int samples) {
    constexpr int batch = 16;
    input.require.common_damping.reset();
    fit_gate_resistor(input, edge, ohm);
    const SampleSpace space(input);
    const SampleEvaluator evaluator(space, edge);
    SampleTeam team(evaluator, 1, 1);
    for (int first = 0; first < samples; first += batch) {
        team.judge(first, std::min(batch, samples - first));
        if (!std::all_of(team.outcomes.begin(), team.outcomes.end(),
                         [](const SampleOutcome& o) { return o.passes; }))
            return false;
    }
    return true;
}

/// The least of the rising values that will do: the last of every four, then back from the first that does.
std::optional<double> least_that_will_do(const std::vector<double>& values,
                                         const std::function<bool(double)>& will_do) {
    constexpr size_t stride = 4;
    for (size_t next = 0; next < values.size(); next += stride) {
        const size_t k = std::min(next + stride - 1, values.size() - 1);
        if (!will_do(values[k])) continue;
        size_t least = k;
        while (least > next && will_do(values[least - 1])) --least;
        return values[least];
    }
    return std::nullopt;
}

std::vector<double> e24_between(double low, double high) {
    std::vector<double> out;
    for (double r = e24_at_least(low); r <= high; r = e24_at_least(1.01 * r)) out.push_back(r);
    return out;
}

}  // namespace

std::optional<double> preferred_by_samples(const Case& input, Edge edge, const std::vector<Window>& windows) {
    constexpr int samples = 59;
    constexpr double least_ohm = 1;
    Case fitted = input;
    for (const Window& window : windows)
        if (const auto value =
                least_that_will_do(e24_between(std::max(least_ohm, window.low), window.high),
                                   [&](double ohm) { return all_pass_on_edge(fitted, edge, ohm, samples); }))
            return value;
    return std::nullopt;
}

ResistanceForShare resistance_for_share(const Case& input, Edge edge, double share, std::int64_t samples,
                                        std::uint64_t seed, int threads) {
    ResistanceForShare out;
    out.edge = edge;
    out.samples = samples;
    Case fitted = input;
    std::map<double, double> reached;
    out.ohm = least_that_will_do(e24_between(1, input.require.gate_resistance_limit_ohm), [&](double ohm) {
        return (reached[ohm] = share_on_edge(fitted, edge, ohm, samples, seed, threads)) >= share;
    });
    if (out.ohm)
        out.share = reached.at(*out.ohm);
    else
        for (const auto& [ohm, of_samples] : reached) out.share = std::max(out.share, of_samples);
    return out;
}

}  // namespace ringquell
