// A case on which a cure is tried.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "review/cure_moves.h"
#include "sizing/trial.h"

namespace ringquell::internal {

using Changes = std::vector<const Setting*>;
/// A verdict and no more.
CheckOptions verdict_alone();
double price_of(const Changes& changes);
Case changed(const Case& input, const Changes& changes);

class CureTrial {
  public:
    /// `before` is of the case.
    CureTrial(const Case& input, const CheckResult& before);

    /// Do the points judged held meet what is asked, and, where the case as it stands fails in passing, its
    /// passages too? Of one edge, or of both. Points that failed what was tried before come first. A case that
    /// cannot be, or whose numbers cannot be trusted, does not pass.
    bool passes(const Changes& changes, std::optional<Edge> edge = std::nullopt);
    /// What is missing at a few hard points, summed over their modes; 0: nothing. `least`: the least margin.
    struct Missing {
        double sum = 0, least = 0;
    };
    Missing missing(const Changes& changes);

    /// The whole verdict; with tolerances, 59 samples too.
    bool confirmed(const Changes& changes);

    const std::vector<Edge>& edges() const { return edges_; }
    std::int64_t networks() const { return networks_; }
    bool fails_in_passing() const { return fails_in_passing_; }
    /// How much dearer a network is than one of two blocks of a dozen states.
    double weight() const { return weight_; }

  private:
    void apply(const Changes& changes);
    bool point_passes(size_t point);
    bool passages_pass(const Changes& changes, std::optional<Edge> edge) const;

    const Case& input_;
    Trial trial_;
    std::vector<OperatingPoint> points_;  // distinct, judged held
    std::vector<size_t> order_;           // what failed last stands first
    std::vector<size_t> hard_;            // a few that stand for all in missing()
    std::vector<Edge> edges_;
    bool fails_in_passing_ = false, bias_moves_ = false;
    double weight_ = 1;
    std::int64_t networks_ = 0;
};

}  // namespace ringquell::internal
