// The three operating points of a board that is written by hand, and the same points as keys of a case.
#pragma once

#include <fmt/format.h>

#include <array>
#include <string>

namespace hand_points {

/// What a point says of the shared parts.
struct At {
    const char* name;
    bool turn_on;
    bool conducting;  // the complementary device
};
inline constexpr std::array points{At{"rise", true, true}, At{"fall", true, false},
                                   At{"release", false, false}};

/// The blocks `operation` and `require` of the case; `fall` and `release` are at half the bus voltage.
inline std::string text(int bus_v) {
    const auto point = [](const char* name, const char* edge, int vds_v, const char* complementary) {
        return fmt::format("    - {{name: {}, edge: {}, vds: {} V, current: 100 A, complementary: {}}}\n",
                           name, edge, vds_v, complementary);
    };
    return "operation:\n  points:\n" + point("rise", "turn_on", bus_v, "conducting") +
           point("fall", "turn_on", bus_v / 2, "blocking") +
           point("release", "turn_off", bus_v / 2, "blocking") +
           "require: {differential_damping: 0.1, band: [1 MHz, 1 GHz]}\n";
}

}  // namespace hand_points
