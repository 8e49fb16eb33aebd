#include "ringquell/version.h"

namespace ringquell {

const char* const version = RINGQUELL_VERSION;

}  // namespace ringquell
