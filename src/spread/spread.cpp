#include "ringquell/spread.h"

#include <algorithm>
#include <chrono>

#include "base/fnv1a.h"
#include "estimates/walked_modes.h"
#include "ringquell/operating_path.h"
#include "ringquell/write_case.h"
#include "spread/sample_team.h"
#include "spread/spread_state.h"

namespace ringquell {

using namespace internal;

namespace {

/// The worst sample once more on the reference path, as a case of its own.
void set_worst(SpreadResult& out, const SampleSpace& space, const SampleEvaluator& evaluator,
               std::uint64_t seed) {
    if (!out.worst_sample) return;
    SampledCase sampled(space);
    std::vector<double> uniforms(space.draws().size());
    for (std::uint32_t attempt = 0; attempt < SampleWorker::most_attempts; ++attempt) {
        space.uniforms(seed, static_cast<std::uint64_t>(*out.worst_sample), attempt, uniforms.data());
        sampled.set(uniforms.data());
        if (evaluator.limits().possible(sampled.input())) break;
    }
    Case worst = sampled.input();
    worst.title = (worst.title.empty() ? std::string() : worst.title + "; ") + "sample " +
                  std::to_string(*out.worst_sample) + " of seed " + std::to_string(seed);
    out.worst = judge_sample(worst);
    const auto points = operating_path(worst).points;
    if (out.worst.point >= 0) out.worst_point = points[static_cast<size_t>(out.worst.point)].name;
    out.worst_case = std::move(worst);
}

/// As `check` judges them.
std::vector<Passage> passages_of(const Case& input) {
    std::vector<OperatingPoint> points = operating_path(input).points;
    if (std::all_of(points.begin(), points.end(), [](const OperatingPoint& p) { return p.judged; }))
        return {};
    ModeSolver solver(input);
    std::vector<Modes> modes;
    modes.reserve(points.size());
    for (const OperatingPoint& p : points) modes.push_back(solver.solve(p));
    WalkedModes walked;
    for (size_t i = 0; i < points.size(); ++i) walked.add(points[i], modes[i]);
    return walked.pass(input, walked.grows_in_passing() ? walked.follow(input) : Families{}).passages;
}

}  // namespace

SpreadResult spread(const Case& input, const SpreadOptions& options) {
    const auto start = std::chrono::steady_clock::now();
    const SampleSpace space(input);
    const SampleEvaluator evaluator(space, std::nullopt, options.fast);
    const std::uint64_t hash = fnv1a_64(write_case(input));
    SpreadState state = options.resume.empty()
                            ? SpreadState(space.draws().size())
                            : SpreadState::read(options.resume, space.draws().size(), hash, options.seed);
    SampleTeam team(evaluator, options.threads, options.seed);
    constexpr std::int64_t block = 512;
    using Clock = std::chrono::steady_clock;
    auto saved = Clock::now();
    bool stop = false;
    while (state.done < options.samples && !stop) {
        const int count = static_cast<int>(std::min(block, options.samples - state.done));
        const std::int64_t first = state.done;
        team.judge(first, count);
        for (int k = 0; k < count; ++k) {
            const auto i = static_cast<size_t>(k);
            state.add(team.outcomes[i], team.uniforms.data() + i * space.draws().size(), input.require);
            if (options.each) options.each(first + k, team.outcomes[i]);
        }
        stop = options.progress && !options.progress(state.done);
        constexpr auto between_checkpoints = std::chrono::seconds(5);
        const bool last = stop || state.done >= options.samples;
        if (options.checkpoint && (last || Clock::now() - saved > between_checkpoints)) {
            options.checkpoint(state.text(hash, options.seed));
            saved = Clock::now();
        }
    }
    SpreadResult out;
    out.title = input.title;
    out.positions = input.n();
    out.require = input.require;
    out.passages = passages_of(input);
    out.seed = options.seed;
    out.asked = std::max(options.samples, state.done);
    state.fill(out, space);
    set_worst(out, space, evaluator, options.seed);
    out.seconds = std::chrono::duration<double>(Clock::now() - start).count();
    return out;
}

Verdict SpreadResult::verdict() const {
    if (!passes_in_passing()) return Verdict::fail;
    if (partial()) return Verdict::undecided;
    if (!keeps()) return samples > 0 ? Verdict::fail : Verdict::undecided;
    if (samples < samples_needed) return Verdict::undecided;
    return share_reached() ? Verdict::pass : Verdict::fail;
}

}  // namespace ringquell
