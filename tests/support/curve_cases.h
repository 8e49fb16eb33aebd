// Cases whose devices are given by formulas and curves, as text.
#pragma once

#include <fmt/format.h>

#include <cmath>

#include "ringquell/device.h"
#include "ringquell/operating_path.h"
#include "support/case_text.h"

namespace curve_cases {

inline const std::string formula =
    "{threshold: 4.1 V, gain: 5.5 A, exponent: 1.7, knee_voltage: 9 V, output_slope: 0.0004 /V}";
inline const ringquell::FormulaChannel formula_channel{4.1, 5.5, 1.7, 9, 0.0004};

/// The three MOSFETs of case_text::base with another channel, a drive, and no point but what `operation`
/// says.
inline std::string mosfets(const std::string& channel, const std::string& operation = "path: {steps: 5}") {
    using case_text::replaced;
    return replaced(
        replaced(case_text::base, "{transconductance: 38 S, output_conductance: 60 mS}", channel),
        "points:\n    - {name: fall, edge: turn_on, vds: 400 V, current: 200 A, complementary: blocking}",
        "drive: {high: 18 V, low: -4 V}\n  " + operation);
}

/// A transfer table sampled from the formula's saturated current, with the formula's knee and slope. The
/// points rise by `spacing_v` from the threshold to 20.1 V.
inline std::string sampled(double spacing_v) {
    std::string points;
    const int count = static_cast<int>(std::lround(16 / spacing_v));
    for (int k = 0; k <= count; ++k) {
        const double over = 16.0 * k / count;
        points += fmt::format("{}[{} V, {} A]", k > 0 ? ", " : "", formula_channel.threshold_v + over,
                              formula_channel.gain_a * std::pow(over, formula_channel.exponent));
    }
    return "{transfer: {points: [" + points + "]}, knee_voltage: 9 V, output_slope: 0.0004 /V}";
}

inline const std::string cascode_device = R"(  kind: cascode
  gate_resistance: 2 ohm
  package: {gate: 5 nH, drain: 2 nH, source: 3 nH, kelvin: 4 nH}
  bonds: {mid: 0.5 nH, jfet_gate: 1 nH}
  mosfet:
    channel: {threshold: 4.7 V, gain: 25 A, exponent: 1.6, knee_voltage: 1 V, output_slope: 0.002 /V}
    capacitance: {cgs: 2.4 nF, cgd: 80 pF, cds: 600 pF}
  jfet:
    gate_resistance: 1.5 ohm
    channel: {threshold: -8.5 V, gain: 6.8 A, exponent: 1.8, knee_voltage: 5 V, output_slope: 0.0002 /V}
    capacitance: {cgs: 1 nF, cgd: 150 pF, cds: 3 pF}
)";

/// Three cascodes given by formulas.
inline std::string cascodes(const std::string& operation = "path: {steps: 5}") {
    std::string text = mosfets("{transconductance: 1 S}", operation);
    const size_t from = text.find("  kind: mosfet"), to = text.find("gate_path:");
    return text.replace(from, to - from, cascode_device);
}

inline ringquell::OperatingPath path_of(const std::string& text,
                                        const std::vector<std::string>& settings = {}) {
    return ringquell::operating_path(case_text::read(text, settings));
}

inline const ringquell::OperatingPoint& point_of(const ringquell::OperatingPath& path,
                                                 const std::string& name) {
    for (const auto& point : path.points)
        if (point.name == name) return point;
    FAIL("no point has the name ", name);
    return path.points.front();
}

inline std::string path_error(const std::string& text, const std::vector<std::string>& settings = {}) {
    try {
        path_of(text, settings);
    } catch (const ringquell::InputError& error) {
        return error.what();
    }
    return "";
}

inline int warnings_of(const ringquell::OperatingPath& path, const std::string& key) {
    int count = 0;
    for (const auto& warning : path.warnings) count += warning.key == key;
    return count;
}

}  // namespace curve_cases
