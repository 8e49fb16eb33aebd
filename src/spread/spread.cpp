#include "ringquell/spread.h"

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cmath>
#include <deque>
#include <exception>
#include <map>
#include <mutex>
#include <thread>

#include "base/fnv1a.h"
#include "ringquell/acceptable.h"
#include "ringquell/operating_path.h"
#include "ringquell/write_case.h"
#include "sizing/e24.h"
#include "spread/sample_evaluator.h"
#include "spread/spread_state.h"

namespace ringquell {

using namespace internal;

namespace {

/// Workers that judge ranges of samples, each with its own work space.
class SampleTeam {
  public:
    SampleTeam(const SampleEvaluator& evaluator, int threads, std::uint64_t seed)
        : evaluator_(evaluator), seed_(seed) {
        for (int k = 0; k < std::max(1, threads); ++k) workers_.emplace_back(evaluator);
    }

    /// Samples [first, first + count), gathered in their order.
    void judge(std::int64_t first, int count) {
        outcomes.resize(static_cast<size_t>(count));
        uniforms.resize(static_cast<size_t>(count) * evaluator_.space().draws().size());
        next_ = 0;
        std::exception_ptr failure;
        std::mutex guard;
        const auto work = [&](SampleWorker& worker) {
            try {
                std::vector<double> some_uniforms;
                std::vector<SampleOutcome> some;
                while (true) {
                    const int begin = next_.fetch_add(chunk);
                    if (begin >= count) return;
                    run(worker, first, begin, std::min(chunk, count - begin), some_uniforms, some);
                }
            } catch (...) {
                const std::lock_guard lock(guard);
                failure = std::current_exception();
                next_ = count;
            }
        };
        std::vector<std::jthread> threads;
        for (size_t k = 1; k < workers_.size(); ++k)
            threads.emplace_back([&work, this, k] { work(workers_[k]); });
        work(workers_.front());
        threads.clear();
        if (failure) std::rethrow_exception(failure);
    }

    std::vector<SampleOutcome> outcomes;
    std::vector<double> uniforms;

  private:
    static constexpr int chunk = 32;  // samples: eight lanes' worth of every point, four times

    void run(SampleWorker& worker, std::int64_t first, int begin, int count,
             std::vector<double>& some_uniforms, std::vector<SampleOutcome>& some) {
        const SampleSpace& space = evaluator_.space();
        worker.evaluate(
            count,
            [&](int index, std::uint32_t attempt, double* out) {
                space.uniforms(seed_, static_cast<std::uint64_t>(first + begin + index), attempt, out);
                return true;
            },
            some_uniforms, some);
        std::move(some.begin(), some.end(), outcomes.begin() + begin);
        std::copy(some_uniforms.begin(), some_uniforms.end(),
                  uniforms.begin() + begin * static_cast<std::ptrdiff_t>(space.draws().size()));
    }

    const SampleEvaluator& evaluator_;
    std::uint64_t seed_;
    std::deque<SampleWorker> workers_;  // they do not move
    std::atomic<int> next_{0};
};

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
    out.passing_left_out =
        std::any_of(points.begin(), points.end(), [](const OperatingPoint& p) { return !p.judged; });
    if (out.worst.point >= 0) out.worst_point = points[static_cast<size_t>(out.worst.point)].name;
    out.worst_case = std::move(worst);
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
    out.seed = options.seed;
    out.asked = std::max(options.samples, state.done);
    state.fill(out, space);
    set_worst(out, space, evaluator, options.seed);
    out.seconds = std::chrono::duration<double>(Clock::now() - start).count();
    return out;
}

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

}  // namespace

namespace {

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

Corners corners(const Case& input, const SpreadResult& result) {
    constexpr size_t most = 5;  // 3^5 = 243 cases
    const SampleSpace space(input);
    const SampleEvaluator evaluator(space);
    SampleWorker worker(evaluator);
    Corners out;
    // The draws of the tolerances that matter most, in their order.
    std::vector<size_t> varied;
    const auto draws_of = [&](const SpreadShare& s) {
        return static_cast<double>(
            std::count_if(space.draws().begin(), space.draws().end(), [&](const Draw& d) {
                return space.tolerance(d).key == s.key && space.tolerance(d).vary == s.vary;
            }));
    };
    std::vector<SpreadShare> by_draw = result.matters;  // what one draw explains, not all positions' together
    for (SpreadShare& s : by_draw) s.share /= std::max(1.0, draws_of(s));
    std::stable_sort(by_draw.begin(), by_draw.end(),
                     [](const SpreadShare& a, const SpreadShare& b) { return a.share > b.share; });
    for (const SpreadShare& share : by_draw)
        for (size_t k = 0; k < space.draws().size() && varied.size() < most; ++k) {
            const Tolerance& t = space.tolerance(space.draws()[k]);
            if (t.key == share.key && t.vary == share.vary) varied.push_back(k);
        }
    for (const size_t k : varied) out.keys.push_back(space.label(space.draws()[k]));
    int count = 1;
    for (size_t k = 0; k < varied.size(); ++k) count *= 3;
    const auto level = [](int index, size_t digit) {
        for (size_t d = 0; d < digit; ++d) index /= 3;
        return index % 3 - 1;
    };
    std::vector<double> uniforms;
    std::vector<SampleOutcome> outcomes;
    worker.evaluate(
        count,
        [&](int index, std::uint32_t attempt, double* u) {
            if (attempt > 0) return false;
            std::fill(u, u + space.draws().size(), 0.5);
            constexpr double end = 1e-12;
            for (size_t d = 0; d < varied.size(); ++d) u[varied[d]] = 0.5 + (0.5 - end) * level(index, d);
            return true;
        },
        uniforms, outcomes);
    out.worst_corner = out.worst_of_grid = 2;
    for (int index = 0; index < count; ++index) {
        const double damping = outcomes[static_cast<size_t>(index)].damping_ratio;
        if (std::isnan(damping)) continue;
        std::vector<double> at;
        for (size_t d = 0; d < varied.size(); ++d) at.push_back(level(index, d));
        const bool corner = std::find(at.begin(), at.end(), 0.0) == at.end();
        if (damping < out.worst_of_grid) {
            out.worst_of_grid = damping;
            out.grid_at = at;
        }
        if (corner && damping < out.worst_corner) {
            out.worst_corner = damping;
            out.at = at;
        }
    }
    out.worst_inside = out.worst_of_grid < out.worst_corner;
    return out;
}

Verdict SpreadResult::verdict() const {
    if (partial()) return Verdict::undecided;
    if (!keeps()) return samples > 0 ? Verdict::fail : Verdict::undecided;
    if (samples < samples_needed) return Verdict::undecided;
    return share_reached() ? Verdict::pass : Verdict::fail;
}

}  // namespace ringquell
