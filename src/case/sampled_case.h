// A case whose numbers are those of a sample.
#pragma once

#include <utility>
#include <vector>

#include "case/sample_space.h"
#include "ringquell/case.h"

namespace ringquell::internal {

/// A copy of the case whose numbers are set from draws. Pointers into it stay valid; it does not move.
class SampledCase {
  public:
    explicit SampledCase(const SampleSpace& space);
    SampledCase(const SampledCase&) = delete;
    SampledCase& operator=(const SampledCase&) = delete;

    /// Every number becomes nominal + Σ tolerance·t(u) over its tolerances; u = 0.5 is the nominal value. In
    /// a table of capacitances crss is kept within ciss and coss.
    void set(const double* uniforms);
    /// Takes the present zeros for those of the structures that are recorded.
    void remember_zeros();
    /// Has each number that varies the zeros that were remembered? If not, the network may have another
    /// structure.
    bool same_zeros() const;
    const Case& input() const { return input_; }
    Case& input() { return input_; }

    struct Target {
        double* value;
        double up, down;  // the largest deviations, both positive
        size_t draw;
        bool normal;
    };
    const std::vector<Target>& targets() const { return targets_; }

  private:
    void limit_tables();
    Case input_;
    std::vector<Target> targets_;
    std::vector<std::pair<double*, double>> nominal_;  // distinct
    std::vector<bool> zero_;
};

}  // namespace ringquell::internal
