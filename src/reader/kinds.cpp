#include "reader/kinds.h"

#include <fmt/format.h>

#include "base/text_lines.h"

namespace ringquell {

using namespace internal;

void internal::refuse_igbt(const std::string& name, const Place& place, const std::string& key) {
    if (lower_case(name) != "igbt") return;
    throw InputError(
        place, key,
        fmt::format(
            "found `{}`, expected `mosfet`, `cascode`, `jfet` or `hemt`: an IGBT's collector current is "
            "carried by charge stored in its base (conductivity modulation, and a tail current at "
            "turn-off), which a channel's gm and gds with capacitances between three terminals do not "
            "hold",
            name));
}

}  // namespace ringquell
