// Eight networks of one recorded structure, from their elements' values to what they add to their samples'
// outcomes.
#pragma once

#include <array>
#include <complex>
#include <span>
#include <vector>

#include "network/values.h"
#include "numerics/batched_eigenvalues.h"
#include "spread/packed_program.h"
#include "spread/sample_judge.h"

namespace ringquell::internal {

/// A point of a sample.
struct PackJob {
    const double* values;  // of the elements, in natural units
    int point;
    SampleOutcome* outcome;
    char* left;  // of the sample: not 0 where it is left to the simple path
};

class PackJudge {
  public:
    PackJudge(const PackedProgram& program, const NetworkValues& rules, const SampleJudge& judge);

    /// One to eight jobs. Adds what matters of their modes to the outcomes; where the fast path cannot tell,
    /// sets `left`.
    void judge(std::span<const PackJob> jobs);

  private:
    static constexpr auto lanes = static_cast<size_t>(pack_lanes);

    struct Lane {
        bool good = true;
        std::vector<std::complex<double>> candidates;  // least damped first
        std::vector<std::complex<double>> upper;       // all eigenvalues with Im λ >= 0
        size_t next = 0;

        bool kinds_unclear() const;
    };

    void run(std::span<const PackJob> jobs);
    void check_divisors();
    void solve(std::span<const PackJob> jobs);
    void take_eigenvalues(const PackJob& job, size_t lane);
    void take_eigenvalue(std::complex<double> lambda, const PackJob& job, Lane& lane, double largest);
    bool tell_kinds(std::span<const PackJob> jobs);
    bool wants_kind(const PackJob& job, const Lane& lane) const;
    void take_kind(const PackJob& job, Lane& lane, double share, double residual);

    const PackedProgram& program_;
    const NetworkValues& rules_;
    const SampleJudge& judge_;
    BatchedEigenvalues solver_;
    PackedShares shares_;
    AlignedBuffer numbers_, matrix_, eigenvalues_, kinds_;
    std::array<Lane, lanes> lane_;
};

}  // namespace ringquell::internal
