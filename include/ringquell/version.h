#pragma once

namespace ringquell {

/// The version that results carry: the project's, of the top CMakeLists.txt.
extern const char* const version;

}  // namespace ringquell
