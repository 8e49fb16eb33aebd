// The numbers of a page, as its JSON.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "page/drawing.h"
#include "ringquell/explain.h"
#include "ringquell/network_echo.h"
#include "ringquell/page.h"

namespace ringquell::internal {

/// A page before it is HTML.
struct PageData {
    Explanation explanation;  // with the check's result
    nlohmann::ordered_json json;
    EnergyShares energy;                 // of the worst mode, by element; sums to 1
    size_t drawn_point = 0;              // of the drawings: where the worst mode is
    std::optional<NetworkEcho> network;  // there; empty without points
};

/// A mode's energy by element name; elements of different positions and segments of a rail are one.
EnergyShares energy_shares(const ExplainedMode& mode);

PageData page_data(const Case& input, const PageOptions& options);

}  // namespace ringquell::internal
