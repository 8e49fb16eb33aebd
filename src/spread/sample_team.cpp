#include "spread/sample_team.h"

#include <algorithm>
#include <exception>
#include <mutex>
#include <thread>

namespace ringquell::internal {

SampleTeam::SampleTeam(const SampleEvaluator& evaluator, int threads, std::uint64_t seed)
    : evaluator_(evaluator), seed_(seed) {
    for (int k = 0; k < std::max(1, threads); ++k) workers_.emplace_back(evaluator);
}

void SampleTeam::judge(std::int64_t first, int count) {
    outcomes.resize(static_cast<size_t>(count));
    uniforms.resize(static_cast<size_t>(count) * evaluator_.space().draws().size());
    next_ = 0;
    std::exception_ptr failure;
    std::mutex guard;
    const auto work_safely = [&](SampleWorker& worker) {
        try {
            work(worker, first);
        } catch (...) {
            const std::lock_guard lock(guard);
            failure = std::current_exception();
            next_ = count;
        }
    };
    std::vector<std::jthread> threads;
    for (size_t k = 1; k < workers_.size(); ++k)
        threads.emplace_back([&work_safely, this, k] { work_safely(workers_[k]); });
    work_safely(workers_.front());
    threads.clear();
    if (failure) std::rethrow_exception(failure);
}

void SampleTeam::work(SampleWorker& worker, std::int64_t first) {
    constexpr int chunk = 32;  // samples: eight lanes' worth of every point, four times
    const SampleSpace& space = evaluator_.space();
    const int count = static_cast<int>(outcomes.size());
    std::vector<double> some_uniforms;
    std::vector<SampleOutcome> some;
    while (true) {
        const int begin = next_.fetch_add(chunk);
        if (begin >= count) return;
        worker.evaluate(
            std::min(chunk, count - begin),
            [&](int index, std::uint32_t attempt, double* out) {
                space.uniforms(seed_, static_cast<std::uint64_t>(first + begin + index), attempt, out);
                return true;
            },
            some_uniforms, some);
        std::move(some.begin(), some.end(), outcomes.begin() + begin);
        std::copy(some_uniforms.begin(), some_uniforms.end(),
                  uniforms.begin() + begin * static_cast<std::ptrdiff_t>(space.draws().size()));
    }
}

}  // namespace ringquell::internal
