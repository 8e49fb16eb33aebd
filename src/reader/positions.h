// The positions of a case: what all share, and what an override lays over it.
#pragma once

#include <string>
#include <vector>

#include "reader/document.h"
#include "reader/read_context.h"

namespace ringquell::internal {

/// The value of the key `positions`.
int read_position_count(const Node& positions);

/// One device tree for each position (`device_of` into `devices`), for the points to lay theirs over.
struct DeviceTrees {
    std::vector<Node> devices;
    std::vector<size_t> device_of;
};

struct ReadPositions {
    std::vector<Position> positions;
    DeviceTrees trees;
};

/// All positions of the case `root`; `overrides` is null where it has none.
ReadPositions read_positions(const Node& root, const Node* overrides, ReadContext& context);

Device read_device(const Node& node, const std::string& path, ReadContext& context);

}  // namespace ringquell::internal
