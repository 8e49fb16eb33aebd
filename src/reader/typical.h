// What devices and boards have where nothing else is known. Common practice, no source.
#pragma once

#include <array>

#include "ringquell/case.h"

namespace ringquell::internal {

/// Of a device, and of the board that such devices are put on.
struct Typical {
    double rated_voltage_v = 0, rated_current_a = 0;
    double drive_high_v = 0, drive_low_v = 0;
    double threshold_v = 0, exponent = 2;
    /// What the gate stands above its threshold by at the rated current; of a JFET the current at 0 V of gate
    /// voltage, in rated currents.
    double overdrive_v = 0, times_at_zero = 0;
    double knee_v = 0;
    double gate_resistance_ohm = 0;
    Package package = {};
    FixedCapacitance capacitance = {};  // at the rated current, and in proportion to it
    double path_h = 0;                  // of a gate path; others follow from it
    double power_loop_h = 0;
    double gate_resistor_ohm = 0;  // on the board, to begin with
    bool beads = false;            // one in each gate path
};

/// Of a cascode at its rated current and bus voltage.
inline constexpr double cascode_output_f = 115e-12;

inline constexpr Typical typical_mosfet{
    .rated_voltage_v = 1200,
    .rated_current_a = 50,
    .drive_high_v = 18,
    .drive_low_v = -4,
    .threshold_v = 4.1,
    .exponent = 1.7,
    .overdrive_v = 3.7,
    .knee_v = 9,
    .gate_resistance_ohm = 1.1,
    .package = {.gate_h = 5e-9, .drain_h = 2e-9, .source_h = 3e-9, .kelvin_h = 4e-9},
    .capacitance = {.cgs_f = 2.3e-9, .cgd_f = 14e-12, .cds_f = 190e-12},
    .path_h = 7e-9,
    .power_loop_h = 9e-9,
    .gate_resistor_ohm = 15,
};

/// A cascode's MOSFET; the JFET stands in starter_device.cpp.
inline constexpr Typical typical_cascode{
    .rated_voltage_v = 1200,
    .rated_current_a = 50,
    .drive_high_v = 15,
    .drive_low_v = -5,
    .threshold_v = 4.7,
    .exponent = 1.6,
    .overdrive_v = 1.7,
    .knee_v = 1,
    .gate_resistance_ohm = 2.5,
    .package = {.gate_h = 6e-9, .drain_h = 2.5e-9, .source_h = 4e-9, .kelvin_h = 5e-9},
    .capacitance = {.cgs_f = 2.4e-9, .cgd_f = 80e-12, .cds_f = 600e-12},
    .path_h = 7e-9,
    .power_loop_h = 12e-9,
    .gate_resistor_ohm = 4.7,
    .beads = true,
};

inline constexpr Typical typical_jfet{
    .rated_voltage_v = 1200,
    .rated_current_a = 30,
    .drive_high_v = 0,
    .drive_low_v = -15,
    .threshold_v = -7,
    .exponent = 1.8,
    .times_at_zero = 4,
    .knee_v = 5,
    .gate_resistance_ohm = 1.5,
    .package = {.gate_h = 6e-9, .drain_h = 2.5e-9, .source_h = 4e-9, .kelvin_h = 5e-9},
    .capacitance = {.cgs_f = 1.2e-9, .cgd_f = 90e-12, .cds_f = 10e-12},
    .path_h = 7e-9,
    .power_loop_h = 12e-9,
    .gate_resistor_ohm = 10,
};

inline constexpr Typical typical_hemt{
    .rated_voltage_v = 650,
    .rated_current_a = 30,
    .drive_high_v = 6,
    .drive_low_v = -3,
    .threshold_v = 1.6,
    .exponent = 1.5,
    .overdrive_v = 1.2,
    .knee_v = 2.5,
    .gate_resistance_ohm = 1,
    .package = {.gate_h = 1e-9, .drain_h = 0.6e-9, .source_h = 0.4e-9, .kelvin_h = 0.8e-9},
    .capacitance = {.cgs_f = 0.26e-9, .cgd_f = 2e-12, .cds_f = 65e-12},
    .path_h = 4e-9,
    .power_loop_h = 4e-9,
    .gate_resistor_ohm = 20,
};

inline const Typical& typical_of(DeviceKind kind) {
    constexpr std::array by_kind{&typical_mosfet, &typical_cascode, &typical_jfet, &typical_hemt};
    return *by_kind.at(static_cast<size_t>(kind));
}

}  // namespace ringquell::internal
