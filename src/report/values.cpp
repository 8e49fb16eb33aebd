#include "report/values.h"

namespace ringquell::internal {

std::string printed(const Json& value) {
    return value.dump(1) + "\n";
}

}  // namespace ringquell::internal
