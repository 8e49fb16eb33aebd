#include "network/reducers.h"

namespace ringquell::internal {

Reducer& Reducers::of(const Network& network) {
    constexpr size_t most = 16;
    for (auto it = kept_.rbegin(); it != kept_.rend(); ++it)
        if ((*it)->fits(network)) {
            (*it)->evaluate(network);
            return **it;
        }
    if (kept_.size() >= most) kept_.erase(kept_.begin());
    kept_.push_back(std::make_unique<Reducer>(network));
    kept_.back()->evaluate(network);
    return *kept_.back();
}

}  // namespace ringquell::internal
