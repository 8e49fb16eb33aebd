// The element values of a network straight from the numbers of its case and of an operating point, without
// building it again.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/network.h"
#include "ringquell/operating_path.h"

namespace ringquell::internal {

/// No device has a gain or an output conductance, as at the threshold.
bool all_off(const OperatingPoint& point);

class ValueMap {
  public:
    /// `network` is build_network(in, point). Keeps pointers into `in`. Empty where an element's value cannot
    /// be traced to its key; that its values are those of build_network is checked at this point.
    static std::optional<ValueMap> make(const Network& network, Case& in, const OperatingPoint& point);

    /// Values of all elements in natural units, as Reducer takes them. False where the point has another
    /// structure: another edge or state of the complementary device, or a capacitance or resistance of a
    /// device that is zero here and was not, or the reverse. A gain or output conductance may become zero.
    bool evaluate(const OperatingPoint& point, double* values) const;
    /// Has a gain or an output conductance become zero, so that an eigenvalue may be zero by structure?
    bool gain_vanished(const double* values) const;

  private:
    enum class Source { number, die, gate_resistance, jfet_gate_resistance, complementary, leg, mutual_of };
    struct Term {
        Source source = Source::number;
        const double* number = nullptr;
        size_t position = 0;
        bool jfet = false;
        double DieValues::*die = nullptr;
        const Bead* bead = nullptr;  // its saturation scales the value
        size_t first = 0, second = 0;
        bool coefficient = false;
        bool reciprocal = false;
        double scale = 1;
        double unit = 1;
        bool may_vanish = false;
    };
    struct Zero {  // a device's number that is no element
        size_t position;
        bool jfet;
        double DieValues::*die;  // null: the gate resistance
    };
    static std::optional<Term> term_of(const Element& element, Case& in, const OperatingPoint& point);

    Edge edge_ = Edge::turn_on;
    Complementary complementary_ = Complementary::blocking;
    std::vector<Term> terms_;
    std::vector<Zero> zeros_;
    bool complementary_zero_ = false;
    bool has_gain_ = false;
};

}  // namespace ringquell::internal
