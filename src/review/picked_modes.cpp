#include "ringquell/picked_modes.h"

#include <set>
#include <string>

namespace ringquell {

std::vector<PickedMode> modes_to_probe(const CheckResult& result) {
    std::vector<PickedMode> out;
    std::set<std::string> seen;
    // A family's name, or without one its kind.
    const auto name_of_growth = [&](const FoundMode& m) {
        const std::string family = family_of(result.families, m.point, m.mode);
        return family.empty() ? kind_name(m.mode.kind) : family;
    };
    const auto pick = [&](const std::string& why, const FoundMode& m) {
        const PointResult& at = result.points[m.point];
        out.push_back({why, at.point, m.mode, at.modes.by_blocks()});
        if (grows(m.mode)) seen.insert(name_of_growth(m));
    };
    if (result.worst_differential) pick("worst differential mode", *result.worst_differential);
    if (result.worst_common) pick("worst common mode", *result.worst_common);
    for (const FoundMode& m : result.growing)  // fastest first
        if (!seen.contains(name_of_growth(m))) pick("growing mode", m);
    return out;
}

}  // namespace ringquell
