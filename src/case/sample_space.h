// The random numbers of a sample: which there are for the tolerances of a case, and how they are drawn.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "case/copula.h"
#include "ringquell/case.h"

namespace ringquell::internal {

/// One random number of every sample: a tolerance at one position, or of all together.
struct Draw {
    size_t tolerance = 0;
    int position = 0;  // from 1; 0: of all that the key names together
    std::uint32_t stream = 0;
    /// As a normal number: Σ weight·parent + residual·(a standard normal number of its own).
    struct Parent {
        size_t draw;
        double weight;
    };
    std::vector<Parent> parents;  // the draws it is correlated with, in the order of the tolerance
    double residual = 1;
    bool linked = false;  // has parents, or is one
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
    /// A key and how it varies: what one tolerance is of.
    using DrawName = std::pair<std::string, Vary>;
    using DrawsByName = std::map<DrawName, std::vector<size_t>>;

    /// Checks a tolerance's key; false where one draw is for all that it names.
    bool varies_at_each_position(const Tolerance& tolerance) const;
    /// The new draws of a tolerance, as indices.
    std::vector<size_t> add_draws(size_t tolerance, std::uint32_t stream, bool at_each_position);
    /// The draws that each names as correlated with it.
    void find_parents(const DrawsByName& by_name);
    /// Of a draw at a position: that of the other key at the same position.
    size_t parent_at_position(const Draw& draw, const Correlation& with, const DrawsByName& by_name) const;
    /// Of a draw that is the only one of its tolerance: the only one of another, or that of one position.
    size_t single_parent(const Draw& draw, const Correlation& with, const DrawsByName& by_name,
                         const std::map<DrawName, size_t>& singles) const;
    void put_in_order();
    /// Appends a draw to the order behind its parents.
    enum class Visit : char { none, open, done };
    void place(size_t draw, std::vector<Visit>& state);
    /// The regression of each draw on its parents.
    void weigh();
    void weigh(Draw& draw, const std::vector<Loadings>& loadings) const;
    [[noreturn]] void refuse_correlation(const Draw& draw, const Correlation& correlation,
                                         const std::string& text) const;
    void check_signs() const;
    Case input_;
    std::vector<Draw> draws_;
    std::vector<size_t> order_;   // parents first
    std::vector<size_t> linked_;  // those of draws_ that are
};

}  // namespace ringquell::internal
