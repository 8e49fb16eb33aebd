// What makes two networks alike for a recorded elimination: unknowns, constants, the place of every element,
// and which values are zero, one, or equal to each other.
#pragma once

#include <string>
#include <vector>

#include "ringquell/network.h"

namespace ringquell::internal {

class NetworkStructure {
  public:
    /// Throws std::logic_error for a constant other than ±1, which the elimination would take by its sign and
    /// Network::a() by its value.
    explicit NetworkStructure(const Network& network);

    /// The elimination took values that were zero or one, or equal to an earlier one, for structure. Are they
    /// still? Values as Reducer::element_values gives them.
    bool holds_for(const double* values) const;
    /// The same places, and values that hold.
    bool fits(const Network& network) const;
    const std::vector<std::string>& names() const { return names_; }  // of the unknowns
    size_t element_count() const { return elements_.size(); }

  private:
    struct Place {
        ElementKind kind;
        Incidence left, right;
    };
    struct Constant {
        int row, column;
        double value;
        bool operator==(const Constant&) const = default;
    };
    static std::vector<Constant> constants_of(const Network& network);
    static constexpr int zero = -1, one = -2;
    std::vector<Place> elements_;
    std::vector<std::string> names_;
    std::vector<Constant> constants_;
    std::vector<int> equal_to_;  // zero, one, or the first element of the same value
};

}  // namespace ringquell::internal
