#include "reader/kelvin.h"

#include <fmt/format.h>

#include "base/lists.h"

namespace ringquell::internal {

namespace {

Place place_of(const Node& root, const char* key) {
    const Node* node = root.find(key);
    return node ? node->place : root.place;
}

}  // namespace

void join_kelvin_pins(Case& read, const Node& root, ReadContext& context) {
    const bool isolated = read.driver.per_position == DriverSharing::isolated;
    const bool to_source = !isolated && read.driver.return_to == DriverReturn::source_rail;
    std::vector<int> open, wires;
    for (int k = 1; k <= read.n(); ++k) {
        Position& p = read.positions[static_cast<size_t>(k) - 1];
        const bool four_leads = p.device.package.kelvin_h.has_value();
        if (!p.kelvin_path && !p.common_mode_choke) {
            if (to_source) {
                if (four_leads) open.push_back(k);
                continue;
            }
            if (!four_leads && !isolated && read.n() > 1)
                throw InputError(
                    place_of(root, "driver"), "kelvin_path",
                    fmt::format(
                        "found neither `kelvin_path` nor `driver.return_to: source_rail` beside a device of "
                        "three leads (no `device.package.kelvin`){}, so nothing says where the driver's "
                        "return goes; expected one of the two",
                        read.n() > 1 ? fmt::format(" at position {}", k) : ""));
        }
        if (!p.kelvin_path) p.kelvin_path.emplace();
        if (p.kelvin_path->inductance_h == 0 && !p.kelvin_path->bead && !p.common_mode_choke)
            wires.push_back(k);
    }
    if (!open.empty())
        warn_once(
            context, "kelvin_path",
            fmt::format(
                "a Kelvin lead without a Kelvin path{}: with `driver.return_to: source_rail` the Kelvin "
                "pin goes nowhere",
                at_positions(open, read.n())));
    if (!wires.empty() && read.n() > 1 && !isolated)
        warn_once(
            context, "kelvin_path.inductance",
            fmt::format("a Kelvin path without inductance{} is an ideal wire, which ties all Kelvin pins "
                        "together: mostly the optimistic side; real paths have 3 to 15 nH",
                        at_positions(wires, read.n())));
}

}  // namespace ringquell::internal
