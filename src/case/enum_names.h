// How the case file names what can be chosen, in the order of the enumerations of case.h.
#pragma once

#include <array>

#include "ringquell/case.h"

namespace ringquell::internal {

inline constexpr std::array edge_names{"turn_on", "turn_off"};
inline constexpr std::array kind_names{"mosfet", "cascode"};
inline constexpr std::array complementary_names{"conducting", "blocking"};
inline constexpr std::array jfet_gate_names{"mosfet_source", "source_pin"};
inline constexpr std::array sharing_names{"shared", "buffer", "isolated"};
inline constexpr std::array return_names{"kelvin_rail", "source_rail"};

/// The stages of the default walk (operating_path.h).
inline constexpr std::array walk_stages{"turn_on current", "turn_on voltage",  "turn_on peak",
                                        "turn_on plateau", "turn_off current", "turn_off voltage",
                                        "turn_off peak",   "turn_off onset",   "turn_off plateau"};
inline constexpr std::array vary_names{"position", "batch"};
inline constexpr std::array distribution_names{"uniform", "normal"};

/// For sentences.
inline const char* edge_word(Edge edge) {
    return edge == Edge::turn_on ? "turn-on" : "turn-off";
}

}  // namespace ringquell::internal
