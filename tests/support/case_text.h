// A small case as text, and what tests of reading do with it.
#pragma once

#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "ringquell/read_case.h"

namespace case_text {

inline const std::string base = R"(ringquell: 1
positions: 3
device:
  kind: mosfet
  gate_resistance: 1.1 ohm
  package: {gate: 5 nH, drain: 2 nH, source: 3 nH, kelvin: 4 nH}
  channel: {transconductance: 38 S, output_conductance: 60 mS}
  capacitance: {cgs: 2.3 nF, cgd: 14 pF, cds: 190 pF}
gate_path: {resistor: 4.7 ohm, inductance: 7 nH}
kelvin_path: {inductance: 5 nH}
driver: {pull_up_resistance: 0.9 ohm, pull_down_resistance: 0.5 ohm, bypass: {capacitance: 1 uF}}
power_loop:
  inductance: 9 nH
  complementary: {capacitance: 240 pF, on_resistance: 12 mohm}
  dc_link: {capacitance: 2 uF}
  load: {inductance: 150 uH}
operation:
  bus_voltage: 800 V
  load_current: 200 A
  points:
    - {name: fall, edge: turn_on, vds: 400 V, current: 200 A, complementary: blocking}
require: {differential_damping: 0.1}
)";

inline std::string replaced(std::string text, const std::string& from, const std::string& to) {
    const size_t at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

/// The case with these tolerances, lines of the block `spread`.
inline std::string with_spread(const std::string& lines) {
    return base + "spread:\n" + lines;
}

inline ringquell::Case read(const std::string& text, const std::vector<std::string>& settings = {}) {
    return ringquell::read_case_text(text, "a.yaml", settings);
}

inline std::string error_of(const std::string& text, const std::vector<std::string>& settings = {}) {
    try {
        read(text, settings);
    } catch (const ringquell::InputError& error) {
        return error.what();
    }
    return "";
}

inline bool contains(const std::string& text, const std::string& part) {
    return text.find(part) != std::string::npos;
}

}  // namespace case_text
