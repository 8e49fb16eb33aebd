// Recorded eliminations of the structures met last.
#pragma once

#include <memory>
#include <vector>

#include "network/reducer.h"

namespace ringquell::internal {

/// Not for two threads at once.
class Reducers {
  public:
    /// Of this network, evaluated at its values; valid until the next call.
    Reducer& of(const Network& network);

  private:
    std::vector<std::unique_ptr<Reducer>> kept_;
};

}  // namespace ringquell::internal
