// Workers that judge ranges of samples, each with its own work space.
#pragma once

#include <atomic>
#include <cstdint>
#include <deque>
#include <vector>

#include "spread/sample_evaluator.h"

namespace ringquell::internal {

class SampleTeam {
  public:
    SampleTeam(const SampleEvaluator& evaluator, int threads, std::uint64_t seed);

    /// Samples [first, first + count), gathered in their order.
    void judge(std::int64_t first, int count);

    std::vector<SampleOutcome> outcomes;
    std::vector<double> uniforms;

  private:
    /// One worker takes chunk after chunk of those from `first` on.
    void work(SampleWorker& worker, std::int64_t first);

    const SampleEvaluator& evaluator_;
    std::uint64_t seed_;
    std::deque<SampleWorker> workers_;  // they do not move
    std::atomic<int> next_{0};
};

}  // namespace ringquell::internal
