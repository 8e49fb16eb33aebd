#include "ringquell/state_space.h"

#include "network/reducer.h"

namespace ringquell {

StateSpace state_space(const Network& network) {
    internal::Reducer reducer(network);
    reducer.evaluate(network);
    return reducer.state_space();
}

}  // namespace ringquell
