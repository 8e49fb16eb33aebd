// Trees laid over trees: part files, overrides of one position, devices of one point.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "reader/document.h"
#include "reader/read_context.h"

namespace ringquell::internal {

/// Puts the contents of part files in the place of `{file: ...}` for every device and bead below `root`; keys
/// beside `file` are laid over them. Throws InputError for a part that includes itself.
void expand_parts(Node& root, ReadContext& context);
/// The same for one map that has `file`.
Node expand_part(const Node& node, const std::string& path, ReadContext& context);
/// `over` laid over `base`, key by key; `key` is the name that both have, since another form of channel,
/// capacitance or bead replaces the whole map.
Node lay_over(const Node& base, const Node& over, std::string_view key);
/// What laid over `base` gives `target`; empty where they are the same.
std::optional<Node> difference(const Node& base, const Node& target, std::string_view key);

}  // namespace ringquell::internal
