// How the case file names what can be chosen, in the order of the enumerations of case.h, and the words that
// sentences have for it. Nothing else spells these names.
#pragma once

#include <array>

#include "ringquell/case.h"

namespace ringquell::internal {

inline constexpr std::array edge_names{"turn_on", "turn_off"};
inline constexpr std::array kind_names{"mosfet", "cascode", "jfet", "hemt"};
inline constexpr std::array complementary_names{"conducting", "blocking"};
inline constexpr std::array jfet_gate_names{"mosfet_source", "source_pin"};
inline constexpr std::array rail_names{"gate", "kelvin", "drain", "source"};
inline constexpr std::array sharing_names{"shared", "buffer", "isolated"};
inline constexpr std::array return_names{"kelvin_rail", "source_rail"};
inline constexpr std::array vary_names{"position", "batch"};
inline constexpr std::array distribution_names{"uniform", "normal"};

/// The stages of the default walk (operating_path.h).
inline constexpr std::array walk_stages{"turn_on current", "turn_on voltage",  "turn_on peak",
                                        "turn_on plateau", "turn_off current", "turn_off voltage",
                                        "turn_off peak",   "turn_off onset",   "turn_off plateau"};

inline const char* name_of(Edge edge) {
    return edge_names.at(static_cast<size_t>(edge));
}
inline const char* name_of(Complementary complementary) {
    return complementary_names.at(static_cast<size_t>(complementary));
}
inline const char* name_of(Vary vary) {
    return vary_names.at(static_cast<size_t>(vary));
}
inline const char* name_of(Distribution distribution) {
    return distribution_names.at(static_cast<size_t>(distribution));
}

/// The kind of a device as the case has it, and in sentences.
inline const char* name_of(DeviceKind kind) {
    return kind_names.at(static_cast<size_t>(kind));
}
inline const char* kind_word(DeviceKind kind) {
    constexpr std::array words{"MOSFET", "cascode", "JFET", "HEMT"};
    return words.at(static_cast<size_t>(kind));
}

/// The edge in sentences.
inline const char* edge_word(Edge edge) {
    return edge == Edge::turn_on ? "turn-on" : "turn-off";
}

}  // namespace ringquell::internal
