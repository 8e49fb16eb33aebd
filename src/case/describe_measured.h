// The keys of an entry of `measured`, as describe.h says those of the board.
#pragma once

#include "case/describe.h"

namespace ringquell::internal {

template <class V, Like<MeasuredRing> T>
void describe(V& v, T& m) {
    v.number("frequency", m.frequency_hz, mandatory(positive(hertz)));
    v.number("decay", m.decay_s, positive(seconds));
    v.number("damping", m.damping_ratio, fraction);
    v.text("at", m.at);
}

}  // namespace ringquell::internal
