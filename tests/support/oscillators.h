// Oscillators of textbooks as cases: one device, an ideal driver and supply, one point named `here`. What is
// known of them, and where from, stands in laws/published_checks_test.cpp.
#pragma once

#include <fmt/format.h>

#include <string>

namespace oscillators {

inline std::string ideal_supply(const std::string& band = "[1 kHz, 1 GHz]") {
    return R"(driver: {pull_up_resistance: 0 ohm, pull_down_resistance: 0 ohm}
power_loop: {inductance: 0 H, complementary: {on_resistance: 0 ohm}}
require: {differential_damping: 0.001, band: )" +
           band + "}\n";
}

/// A case at one point. `parts`: device and paths; `shared`: driver, power loop, requirement.
inline std::string bare_case(const std::string& parts, const std::string& shared = ideal_supply(),
                             int positions = 2) {
    return fmt::format("ringquell: 1\npositions: {}\n{}{}", positions, parts, shared) + R"(operation:
  points: [{name: here, edge: turn_on, vds: 400 V, current: 10 A, complementary: conducting}]
)";
}

/// The JFET of a cascode follows its gate; the MOSFET, off, is its load of 200 pF. Both rails are virtual
/// shorts.
inline std::string follower(double gate_resistance_ohm, double transconductance_s = 1,
                            const std::string& band = "[1 kHz, 1 GHz]") {
    return bare_case(fmt::format(R"(device:
  kind: cascode
  package: {{kelvin: 0 H}}
  bonds: {{mid: 0 H, jfet_gate: 10 nH}}
  mosfet:
    channel: {{transconductance: 0 S, output_conductance: 0 S}}
    capacitance: {{cgs: 0 F, cgd: 0 F, cds: 200 pF}}
  jfet:
    gate_resistance: {:.17g} ohm
    channel: {{transconductance: {:.17g} S, output_conductance: 0 S}}
    capacitance: {{cgs: 1 nF, cgd: 0 F, cds: 0 F}}
)",
                                 gate_resistance_ohm, transconductance_s),
                     ideal_supply(band));
}

/// Source and Kelvin paths too inductive to matter leave the source floating: cgs and cds divide, the two
/// paths in series are the coil. `more`: whole lines.
inline std::string colpitts(double coil_h, double gate_f, double drain_f, double transconductance_s,
                            double load_ohm, const std::string& more = "") {
    return bare_case(fmt::format(R"(device:
  kind: mosfet
  package: {{kelvin: 0 H}}
  channel: {{transconductance: {:.17g} S, output_conductance: {:.17g} S}}
  capacitance: {{cgs: {:.17g} F, cgd: 0 F, cds: {:.17g} F}}
gate_path: {{inductance: {:.17g} H}}
drain_path: {{inductance: {:.17g} H}}
source_path: {{inductance: 10000 H}}
kelvin_path: {{inductance: 10000 H}}
{})",
                                 transconductance_s, 1 / load_ohm, gate_f, drain_f, 0.4 * coil_h,
                                 0.6 * coil_h, more));
}

/// The gain stands at a node without capacitance.
inline std::string hartley(double drain_h, double gate_h, double tank_f, double transconductance_s,
                           double load_ohm) {
    return bare_case(fmt::format(R"(device:
  kind: mosfet
  package: {{kelvin: 0 H}}
  channel: {{transconductance: {:.17g} S, output_conductance: {:.17g} S}}
  capacitance: {{cgs: 0 F, cgd: {:.17g} F, cds: 0 F}}
gate_path: {{inductance: {:.17g} H}}
drain_path: {{inductance: {:.17g} H}}
)",
                                 transconductance_s, 1 / load_ohm, tank_f, gate_h, drain_h));
}

}  // namespace oscillators
