// `--set key=value`: edits of the tree before it is read.
#pragma once

#include <string_view>

#include "reader/document.h"
#include "reader/read_context.h"

namespace ringquell::internal {

/// Makes one setting, `key=value`, the value as it would stand in the file: `gate_path[2].inductance` sets it
/// at position 2 alone, entries of lists count from 1, an absent key is created. Throws InputError, also
/// where `=` or the key is missing.
void apply_setting(Node& root, std::string_view setting, ReadContext& context);

}  // namespace ringquell::internal
