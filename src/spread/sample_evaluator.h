// Judges many samples: eight networks at once where their structure is one that was recorded, one by one
// where it is not.
#pragma once

#include <atomic>
#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "case/sampled_case.h"
#include "network/values.h"
#include "ringquell/spread.h"
#include "spread/coupling_limits.h"
#include "spread/pack_judge.h"
#include "spread/packed_program.h"
#include "spread/sample_judge.h"

namespace ringquell::internal {

/// What is compiled once for a case: the networks its points have, as programs. Shared by all threads.
class SampleEvaluator {
  public:
    /// `only`: judge the points of one edge alone. `fast` false: the simple path throughout.
    SampleEvaluator(const SampleSpace& space, std::optional<Edge> only = std::nullopt, bool fast = true);

    struct Structure {
        Network network;
        OperatingPoint point;  // where it was recorded
        PackedProgram program;
    };
    const SampleSpace& space() const { return space_; }
    const std::vector<Structure>& structures() const { return structures_; }
    bool judges(const OperatingPoint& point) const {
        return point.judged && (!only_ || point.edge == *only_);
    }
    const SampleJudge& judge() const { return judge_; }
    const CouplingLimits& limits() const { return limits_; }
    std::optional<Edge> only() const { return only_; }
    /// Place of a point of the path in the order in which points are solved: the hardest first, so that of
    /// the others few modes need to be known by kind. No result depends on it.
    int rank(int point) const {
        return static_cast<size_t>(point) < rank_.size() ? rank_[static_cast<size_t>(point)] : point;
    }

  private:
    void record();
    void record(const Case& sample, const OperatingPoint& point, std::vector<NetworkValues>& known);
    void rank_points(const Case& sample, const OperatingPath& path);
    const SampleSpace& space_;
    std::optional<Edge> only_;
    SampleJudge judge_;
    CouplingLimits limits_;
    std::vector<Structure> structures_;  // that of the hardest point first
    std::vector<int> rank_;
};

/// One thread's work space; its results depend on nothing that it did before.
class SampleWorker {
  public:
    explicit SampleWorker(const SampleEvaluator& evaluator);

    /// Fills `uniforms` of sample `index`, at an attempt counted from 0. A source that has no further attempt
    /// returns false.
    using Source = std::function<bool(int index, std::uint32_t attempt, double* uniforms)>;
    /// Judges `count` samples. `uniforms`: count × draws numbers, filled in.
    void evaluate(int count, const Source& source, std::vector<double>& uniforms,
                  std::vector<SampleOutcome>& out);

    /// A sample of attempt `attempt` whose couplings are impossible is drawn again, so often at most.
    static constexpr std::uint32_t most_attempts = 1000;

  private:
    struct Job {
        int sample, point;
        size_t values;
    };
    void draw(int sample, const Source& source, double* uniforms, SampleOutcome& outcome);
    void queue(int sample, const OperatingPath& path);
    void solve(size_t structure, std::vector<SampleOutcome>& out);

    const SampleEvaluator& evaluator_;
    SampledCase sampled_;
    // By structure.
    std::vector<NetworkValues> rules_;
    std::vector<PackJudge> judges_;
    std::vector<std::vector<Job>> jobs_;
    std::vector<double> values_, scratch_;
    std::vector<char> left_;  // samples left to the simple path
};

/// Judges a case as a sample, point by point, with ModeSolver: the simple path, to which the fast one is
/// compared.
SampleOutcome judge_sample(const Case& sample);

}  // namespace ringquell::internal
