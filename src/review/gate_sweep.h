// How the modes follow the gate resistor of one edge: curves to draw, and roots to move along them.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/check.h"

namespace ringquell::internal {

struct SweptMode {
    double natural_frequency_hz = 0;
    double damping_ratio = 0;
    ModeKind kind = ModeKind::common;
    size_t point = 0;  // index into CheckResult::points
};

/// All judged points of the edge, or of as many as `points` says, with one gate resistance.
struct SweptValue {
    double ohm = 0;
    bool passes = false;
    std::optional<SweptMode> differential, common;  // least damped in the band
    int growing = 0;                                // modes, counted at each point
    std::vector<SweptMode> roots;                   // at GateSweep::point, those that oscillate near the band
};

struct GateSweep {
    Edge edge = Edge::turn_on;
    std::string key;                        // of the resistor
    size_t point = 0;                       // whose roots are kept: the edge's least damped one
    size_t points = 0, points_of_edge = 0;  // different networks swept (the hardest), of so many
    std::vector<SweptValue> values;         // rising
};

/// From zero to the limit in E24 steps, with what is fitted, what is preferred, and the windows' ends among
/// them, each with the bead's bias that it makes; a value whose numbers fail is left out. A large uneven
/// layout is swept at fewer values and at its hardest points only: what a page can wait for. One sweep for
/// each edge that `result` sized.
std::vector<GateSweep> sweep_gate_resistors(const Case& input, const CheckResult& result);

}  // namespace ringquell::internal
