// Parts of the text and the JSON that several reports share.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "ringquell/growth.h"

namespace ringquell {

/// For sentences.
inline const char* edge_word(Edge edge) {
    return edge == Edge::turn_on ? "turn-on" : "turn-off";
}

/// The stages in which a mode grows, and by what factor in one passage; empty where nothing grows.
std::string growth_lines(const PassingGrowths& growths);
/// {"stages": [...], "notes": [...]}.
nlohmann::ordered_json growth_json(const PassingGrowths& growths);

}  // namespace ringquell
