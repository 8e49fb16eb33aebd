// The network of a case as a reviewer compares it with the layout: what is joined to what, which loop
// inductances result.
#pragma once

#include <string>
#include <vector>

#include "ringquell/network.h"

namespace ringquell {

struct EchoedValue {
    std::string key;
    ElementKind kind = ElementKind::resistance;
    double value = 0;  // the key's value, SI (a resistance stamped as a conductance is a resistance here)
};

struct EchoedBranch {
    std::string name, from, to;
    std::vector<EchoedValue> values;
};

/// What stands beside the loop inductance: a bead's sections, inductances and resistances added up, as biased
/// at the point.
struct EchoedBead {
    std::string key;  // "gate_path.bead"
    double inductance_h = 0;
    double resistance_ohm = 0;
};

struct EchoedPosition {
    std::vector<int> numbers;  // positions, from 1, that are alike in everything echoed here
    std::vector<EchoedBranch> branches;
    /// Gate tap to gate pin to chip and back to the Kelvin tap, mutual terms included. Beads are not counted
    /// but named.
    double gate_kelvin_loop_h = 0;
    std::vector<EchoedBead> beads;
};

struct EchoedCoupling {
    std::string name;  // couplings[2]: gate_path[1].inductance and kelvin_path[1].inductance
    double mutual_h = 0;
    double coefficient = 0;  // as given, or of the two inductances that are named
};

struct NetworkEcho {
    std::string point;
    std::vector<EchoedPosition> positions;
    std::vector<EchoedBranch> shared;
    /// Loop from drain tap k through position k, back through position k + 1, with the buses between them; k
    /// from 1.
    std::vector<double> neighbour_loop_h;
    /// Of the power loop's own inductances (loop and DC link), without the positions.
    double power_loop_h = 0;
    /// The same with all positions' drain and source paths side by side.
    double power_loop_with_positions_h = 0;
    std::vector<EchoedCoupling> couplings;
};

NetworkEcho network_echo(const Case& input, const OperatingPoint& point);

}  // namespace ringquell
