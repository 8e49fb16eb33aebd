// What varies in a case, and the values it takes in a sample.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "ringquell/case.h"

namespace ringquell {

/// One random number of every sample: a tolerance at one position, or of all together.
struct Draw {
    size_t tolerance = 0;
    int position = 0;  // from 1; 0: of all that the key names together
    std::uint32_t stream = 0;
    int parent = -1;  // the draw it is correlated with
};

/// The draws of a case's tolerances. Throws InputError, at the tolerance, for a key that the case has not, a
/// shared key that is to vary by position, a tolerance that reaches below zero where that cannot be, and
/// correlations that do not fit.
class SampleSpace {
  public:
    explicit SampleSpace(Case input);
    const Case& input() const { return input_; }
    const std::vector<Draw>& draws() const { return draws_; }
    const Tolerance& tolerance(const Draw& draw) const { return input_.spread[draw.tolerance]; }
    /// `gate_path[2].inductance`, or the key itself.
    std::string label(const Draw& draw) const;
    /// The random numbers of a sample, one for each draw, each uniform in (0, 1). `attempt` counts from 0 how
    /// often a sample was drawn again.
    void uniforms(std::uint64_t seed, std::uint64_t sample, std::uint32_t attempt, double* out) const;

  private:
    void check_signs() const;
    Case input_;
    std::vector<Draw> draws_;
    std::vector<size_t> order_;  // parents first
};

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

/// What a tolerance's key names: a number, or a bead's curve (every section's resistance and inductance).
struct VaryingNumber {
    std::vector<double*> values;
    bool may_be_negative = false;
    bool curve = false;
};
/// At `position` (from 1; 0: everywhere). Throws InputError.
VaryingNumber varying_number(Case& in, const std::string& key, int position);
/// May the key's number differ from position to position? Then whether it names one position alone.
bool is_position_number(const std::string& key, bool& one_position);

/// The documented default set (docs/spread.md): common practice, without a source. Of the keys that this case
/// has.
std::vector<Tolerance> typical_spread(const Case& input);

/// Could the inductances of this sample be those of a layout? False where its couplings share more flux than
/// there is.
class CouplingLimits {
  public:
    explicit CouplingLimits(const Case& input);
    bool possible(const Case& sample) const;

  private:
    std::vector<std::pair<size_t, size_t>> rows_;  // of each coupling, the two inductances it joins
    std::vector<std::pair<double, double>> weights_;
    size_t names_ = 0;
    bool mutuals_ = false;
};

}  // namespace ringquell
