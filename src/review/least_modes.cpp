#include "review/least_modes.h"

#include "modes/ranking.h"

namespace ringquell::internal {

LeastModes least_modes(const std::vector<Mode>& modes, const Requirement& require) {
    LeastModes out;
    for (const ModeKind kind : {ModeKind::differential, ModeKind::common})
        if (const Mode* m = least_damped(modes, kind, require))
            (kind == ModeKind::common ? out.common : out.differential) =
                LeastMode{m->damping_ratio(), m->natural_frequency_hz()};
    return out;
}

LeastModes worse_of(const LeastModes& a, const LeastModes& b) {
    const auto worse = [](const std::optional<LeastMode>& x, const std::optional<LeastMode>& y) {
        return !x || (y && y->damping_ratio < x->damping_ratio) ? y : x;
    };
    return {worse(a.differential, b.differential), worse(a.common, b.common)};
}

}  // namespace ringquell::internal
