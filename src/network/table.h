// Private to the network stage: the table of branches, what docs/model.md lists, in the same order.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "network/builder.h"

namespace ringquell::internal {

/// The nodes of a position that shared parts may hold, and which of them are merged.
struct PositionNodes {
    int number;  // from 1, in names
    int gate_tap, kelvin_tap, drain_tap, source_tap;
    int drain_feed, source_feed;
    int tab;
};

/// The rails of a network: the tap of every position on each, and its feed.
struct Rails {
    std::array<std::vector<int>, 4> taps;
    std::array<int, 4> feed{};  // -1 where the rail does not exist
    int feed_of(Rail r) const { return feed[static_cast<size_t>(r)]; }
};

/// Does the rail join the positions? Where every position has its own driver there is no gate rail, where
/// that is isolated no Kelvin rail either, nor where no position has a Kelvin path.
bool rail_exists(const Case& input, Rail rail);

/// A star is one node; a bus (of a whole network) is a row of taps.
Rails add_rails(NetworkBuilder& builder, int built, bool whole);

/// The device of a position and all that stands between it and the rails.
void add_position(NetworkBuilder& builder, const PositionNodes& at, bool keep_gate_resistor);

/// The driver that positions share, or that of one alone: back to the position's own Kelvin tap, or to the
/// source rail.
void add_shared_driver(NetworkBuilder& builder, const Rails& rails, double scale);
void add_own_driver(NetworkBuilder& builder, const PositionNodes& at);

void add_power_loop(NetworkBuilder& builder, const Rails& rails, double scale);

}  // namespace ringquell::internal
