// Cases of N positions along buses, no two positions alike, as text. For tests and benchmarks of large
// networks.
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>

namespace ladder {

struct Options {
    int positions = 6;
    double gate_resistor_ohm = 6.8;
    int weak_from = 0, weak_count = 0;  // these positions have the resistor below
    double weak_resistor_ohm = 0.5;
    bool damped = false;   // a bead in each gate, a snubber across each device
    double spread = 0.05;  // of the paths' inductances
    double damping = 0.1;  // asked of differential modes
    double transconductance_s = 38;
    bool loop_shared = true;  // the shared parts scale as 1/N, so that every N is the same board, longer
};

/// The text of a case: drain, source, gate and Kelvin buses of small segments.
inline std::string text(const Options& o) {
    const auto n = static_cast<double>(o.positions);
    const double share = o.loop_shared ? 4 / n : 1;
    std::string out = fmt::format(
        R"(ringquell: 1
positions: {}
device:
  kind: mosfet
  gate_resistance: 1.1 ohm
  package: {{gate: 5 nH, drain: 2 nH, source: 3 nH, kelvin: 4 nH}}
  channel: {{transconductance: {} S, output_conductance: 60 mS}}
  capacitance: {{cgs: 2.3 nF, cgd: 14 pF, cds: 190 pF}}
gate_path: {{resistor: {} ohm, inductance: 7 nH{}}}
kelvin_path: {{inductance: 5 nH}}
drain_path: {{inductance: 4 nH, resistance: 0.5 mohm}}
source_path: {{inductance: 3 nH, resistance: 0.5 mohm}}
)",
        o.positions, o.transconductance_s, o.gate_resistor_ohm,
        o.damped
            ? ", bead: {dc_resistance: 40 mohm, resistance: 60 ohm, inductance: 80 nH, capacitance: 1 pF}"
            : "");
    if (o.damped) out += "snubber: {capacitance: 220 pF, resistance: 5 ohm, inductance: 2 nH}\n";
    out += fmt::format(R"(driver:
  pull_up_resistance: {} ohm
  pull_down_resistance: {} ohm
  inductance: {} nH
  return_inductance: {} nH
  bypass: {{capacitance: {} uF, esr: {} mohm, esl: {} nH}}
power_loop:
  inductance: {} nH
  resistance: {} mohm
  complementary: {{capacitance: {} pF, on_resistance: {} mohm}}
  dc_link: {{capacitance: {} uF, esr: {} mohm, esl: {} nH}}
  load: {{inductance: 150 uH, capacitance: 60 pF, resistance: 2 ohm}}
buses:
  drain: {{inductance: 0.05 nH, resistance: 0.02 mohm}}
  source: {{inductance: 0.04 nH, resistance: 0.02 mohm, feed_at: {}}}
  gate: {{inductance: 0.2 nH, resistance: 1 mohm}}
  kelvin: {{inductance: 0.15 nH, resistance: 1 mohm}}
)",
                       0.9 * share, 0.5 * share, 4 * share, 3 * share, 1 / share, 8 * share, 0.8 * share,
                       9 * share, 4 * share, 240 / share, 12 * share, 2 / share, 3 * share, 4 * share,
                       std::max(1, o.positions / 2));
    out += "overrides:\n";
    for (int k = 1; k <= o.positions; ++k) {
        const auto varied = [&](double value, double phase) {
            return value * (1 + o.spread * std::sin(phase * k + 0.3));
        };
        const bool weak = k >= o.weak_from && k < o.weak_from + o.weak_count;
        out += fmt::format(
            "- {{position: {}, gate_path: {{inductance: {:.9g} nH, resistor: {} ohm}}, source_path: "
            "{{inductance: {:.9g} nH}}, "
            "drain_path: {{inductance: {:.9g} nH}}}}\n",
            k, varied(7, 1.7), weak ? o.weak_resistor_ohm : o.gate_resistor_ohm, varied(3, 2.3),
            varied(4, 0.9));
    }
    out += fmt::format(R"(operation:
  bus_voltage: 800 V
  load_current: {} A
  points:
  - {{name: fall, edge: turn_on, vds: 400 V, current: {} A, complementary: blocking}}
  - {{name: rise, edge: turn_on, vds: 800 V, current: {} A, complementary: conducting}}
require: {{differential_damping: {}, common_damping: 0.02, band: [1 MHz, 300 MHz]}}
)",
                       50 * o.positions, 50 * o.positions, 50 * o.positions, o.damping);
    return out;
}

}  // namespace ladder
