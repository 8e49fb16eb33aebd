// The values of a network's elements at other points and with other numbers of its case, without building it
// again.
#pragma once

#include <vector>

#include "ringquell/network.h"

namespace ringquell::internal {

/// No device has a gain or an output conductance, as at the threshold.
bool all_off(const OperatingPoint& point);

/// Applies the rules of a network's elements: what build_network would stamp, bit for bit, as long as the
/// network has the same elements.
class NetworkValues {
  public:
    /// What becomes of a gain or output conductance that is zero where it was not: another structure, as
    /// build_network has it, or an element of value zero (unless no device at all has one).
    enum class Gains { must_stand, may_vanish };

    /// `network` is build_network(input, built_at). Keeps a reference to `input`, whose numbers may change.
    NetworkValues(const Network& network, const Case& input, const OperatingPoint& built_at, Gains gains);

    /// Values of all elements, SI. False where the point has another structure: another edge or state of the
    /// complementary device, or a part that is a wire or open here and was not, or the reverse.
    bool evaluate(const OperatingPoint& point, double* values) const;
    /// The same in natural units, as Reducer takes them.
    bool evaluate_natural(const OperatingPoint& point, double* values) const;
    /// Has a gain or an output conductance become zero, so that an eigenvalue may be zero by structure?
    bool gain_vanished(const double* values) const;

  private:
    struct Term {
        Rule rule;
        int position;
        Stamping stamping;
        ElementKind kind;  // of the number
        bool must_stand;   // or else the structure is another
        bool gain;
        int first, second;  // of a coupling by coefficient, whose scale moves with both; else -1
        double unit;
    };

    const Case& input_;
    Edge edge_;
    Complementary complementary_;
    std::vector<Term> terms_;
    std::vector<AbsentPart> absent_;
    bool has_gain_ = false;
};

}  // namespace ringquell::internal
