// What a window search sees at one value of its parameter.
#pragma once

#include <limits>
#include <string>
#include <vector>

#include "sizing/window_search.h"

namespace ringquell::internal {

/// What is judged at one value: the least margin of the differential modes, and the mode that has it.
struct Sample {
    double value = 0;
    std::vector<Mode> modes;
    double margin = std::numeric_limits<double>::infinity();  // in damping ratio; negative: not acceptable
    const Mode* mode = nullptr;                               // into modes
    bool unsure = false;  // the margin is within its own uncertainty: evidence of nothing
    bool acceptable() const { return margin >= 0; }
};

class Sampler {
  public:
    Sampler(const Search& search, int& evaluations) : search_(search), evaluations_(evaluations) {}

    /// Judges one value. With `look_closer` it is asked, too, whether the margin is within its uncertainty.
    Sample at(double value, bool look_closer);
    /// Why the first of the values that could not be judged could not; empty where all could.
    const std::string& failure() const { return failure_; }
    /// The largest uncertainty that made a sample unsure.
    double worst_doubt() const { return worst_doubt_; }

  private:
    double uncertainty(double value, const Mode& mode) const;
    void forget_doubtful_growth(Sample& s) const;
    bool within_uncertainty(const Sample& s);

    const Search& search_;
    int& evaluations_;
    Roughness roughness_;
    std::string failure_;
    double worst_doubt_ = 0;
};

}  // namespace ringquell::internal
