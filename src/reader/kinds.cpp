#include "reader/kinds.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/nearest.h"
#include "base/text_lines.h"
#include "case/enum_names.h"
#include "ringquell/starter.h"

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

DeviceKind device_kind(const std::string& name, const std::string& key) {
    refuse_igbt(name, {}, key);
    const auto found = std::find(kind_names.begin(), kind_names.end(), name);
    if (found == kind_names.end())
        throw InputError({}, key,
                         fmt::format("found `{}`, expected a kind of device", name) +
                             suggestion(name, {kind_names.begin(), kind_names.end()}));
    return static_cast<DeviceKind>(found - kind_names.begin());
}

}  // namespace ringquell
