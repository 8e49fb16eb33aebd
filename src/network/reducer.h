// The exact elimination of a network's algebraic part, and what comes of it on other values of the same structure.
#pragma once

#include <Eigen/Core>
#include <complex>
#include <memory>
#include <vector>

#include "numerics/units.h"
#include "ringquell/state_space.h"

namespace ringquell::internal {

struct PencilReduction;

/// Exact elimination of a network's algebraic part, recorded for one structure and repeated on other values
/// of the same.
class Reducer {
  public:
    explicit Reducer(const Network& network);
    ~Reducer();
    Reducer(Reducer&&) noexcept;
    Reducer& operator=(Reducer&&) noexcept;

    /// Has the network the same unknowns and elements, and do its values hold (holds_for), so that evaluate()
    /// is right for it?
    bool fits(const Network& network) const;
    /// The elimination took values that were zero, or equal to each other, for structure. Are they still?
    /// Values as evaluate() takes them.
    bool holds_for(const double* values) const;
    /// Takes the network's values. Throws NumericalError where the condition of what was inverted exceeds
    /// largest_condition.
    void evaluate(const Network& network);
    /// As above with the elements' values alone, in the network's order, in natural units.
    void evaluate(const double* values);

    /// The last evaluation, natural units (1/ns), structural zeros removed; every eigenvalue is finite and
    /// not zero.
    const Eigen::MatrixXd& a() const { return a_; }
    double condition() const { return condition_; }
    int structural_zeros() const;
    int unknowns() const;
    /// All unknowns of the network from an eigenvector of a(); λ in 1/ns.
    Eigen::VectorXcd full_vector(std::complex<double> lambda, const Eigen::VectorXcd& reduced) const;
    /// With structural zeros, SI units, for export.
    StateSpace state_space() const;
    /// The recorded elimination itself.
    const PencilReduction& reduction() const { return *reduction_; }
    /// Values of all elements in natural units, as evaluate() takes them.
    static std::vector<double> element_values(const Network& network);

  private:
    struct Structure;
    std::unique_ptr<PencilReduction> reduction_;
    std::unique_ptr<Structure> structure_;
    std::vector<double> values_;
    Eigen::MatrixXd e_, a_;
    double condition_ = 1;
};

}  // namespace ringquell::internal
