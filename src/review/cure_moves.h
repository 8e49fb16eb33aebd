// What a cure may move, and to which values.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "case/cure_keys.h"
#include "ringquell/cure.h"

namespace ringquell::internal {

/// One value of a move.
struct Setting {
    std::vector<CureChange> changes;
    double price = 0;
    bool gate_resistor = false;
    bool coarse = false;  // one of the few that stand for all in a first look
    std::function<void(Case&)> apply;
};

/// A part, a value or a piece of layout that can be set to several values.
struct Move {
    std::string what;  // "a gate resistor for turn-on alone"
    std::string key;
    CureEffort effort = CureEffort::value;
    /// A gate resistor, that of one edge or, without, one value for both.
    bool gate_resistor = false;
    std::optional<Edge> edge;
    std::vector<Setting> settings;  // cheapest first
    /// A number that may have any value: between two settings, too.
    std::function<Setting(double value)> at;
    double now = 0;
    std::vector<double> values;  // of `settings`, where `at` is given
};

/// Everything that `cure:` allows; gate and driver resistors of these edges. `short_list` leaves out layout, driver, and all but gate resistors, beads
/// and snubbers, with few values of these.
std::vector<Move> cure_moves(const Case& input, const CureOptions& options, const std::vector<Edge>& edges,
                             bool short_list);

}  // namespace ringquell::internal
