// A point of a path by its name.
#pragma once

#include <string>
#include <vector>

#include "ringquell/operating_path.h"

namespace ringquell::internal {

/// Its index. Where there is none of that name, throws InputError at `place` and `key` with the nearest name, or else
/// the first and the last of every stage.
size_t find_point(const std::vector<OperatingPoint>& points, const std::string& name, const Place& place,
                  const std::string& key);

}  // namespace ringquell::internal
