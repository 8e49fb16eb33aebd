// A device of the case: its dice with their channels and capacitances, its package and bonds.
#pragma once

#include <array>
#include <optional>
#include <utility>
#include <variant>
#include <vector>

#include "ringquell/error.h"

namespace ringquell {

/// All but the cascode are one die between gate, drain and source, the same network: a JFET is normally on and
/// its gate is a junction, a HEMT has a gate of either kind.
enum class DeviceKind { mosfet, cascode, jfet, hemt };

/// A resistance inside a die: value·(1 + per_kelvin·(T − at)) at the junction temperature T.
struct DieResistance {
    double value_ohm = 0;
    double at_degc = 25;
    double per_kelvin = 0;  // 1/K; 0.003 is 0.3 %
    bool operator==(const DieResistance&) const = default;
};

/// Small-signal values that hold at every operating point.
struct FixedChannel {
    double transconductance_s = 0;
    double output_conductance_s = 0;
    bool operator==(const FixedChannel&) const = default;
};

/// What `output_slope` is taken to be where it is not given: no device has 0, and these span what devices
/// have (common practice, no source). The first is the nominal one; a verdict is of the worst of the three.
inline constexpr std::array assumed_output_slopes_per_v{0.0005, 0.00005, 0.005};

/// I = gain·((vgs − threshold)/1 V)^exponent · (1 + output_slope·vds) · tanh(vds/knee_voltage), zero below
/// threshold.
struct FormulaChannel {
    double threshold_v = 0;
    double gain_a = 0;
    double exponent = 2;
    double knee_voltage_v = 0;
    std::optional<double> output_slope_per_v;  // absent: assumed_output_slopes_per_v
    bool operator==(const FormulaChannel&) const = default;
};

/// One measured transfer curve: drain current against gate-source voltage in saturation, at one temperature.
struct TransferCurve {
    /// Absent: the only curve, which holds at every temperature.
    std::optional<double> junction_temperature_degc;
    /// (V, A), strictly rising in V, never falling in A.
    std::vector<std::pair<double, double>> points;
    Origin place;
    bool operator==(const TransferCurve&) const = default;
};

/// I = curve(vgs) · (1 + output_slope·vds) · tanh(vds/knee_voltage). The spread acts through the last three.
struct TransferChannel {
    std::vector<TransferCurve> curves;  // rising in temperature
    double knee_voltage_v = 0;
    std::optional<double> output_slope_per_v;  // absent: assumed_output_slopes_per_v
    double threshold_shift_v = 0;              // moves the curve to the right
    double gain_factor = 1;                    // scales the current
    bool operator==(const TransferChannel&) const = default;
};

using Channel = std::variant<FixedChannel, FormulaChannel, TransferChannel>;

struct FixedCapacitance {
    double cgs_f = 0;
    double cgd_f = 0;
    double cds_f = 0;
    bool operator==(const FixedCapacitance&) const = default;
};

/// Datasheet curves (IEC 60747-8): cgd = crss, cgs = ciss − crss, cds = coss − crss.
struct CapacitanceTable {
    struct Row {
        double vds_v = 0, ciss_f = 0, coss_f = 0, crss_f = 0;
        bool operator==(const Row&) const = default;
    };
    std::vector<Row> rows;  // strictly rising in vds
    Origin place;
    /// At which gate-source voltage the curves were taken: a row's v(D,G) is its vds less this. Absent: 0 V,
    /// of a JFET (which conducts at 0 V) its threshold.
    std::optional<double> gate_voltage_v;
    double ciss_factor = 1, coss_factor = 1, crss_factor = 1;  // what the spread scales

    /// crss is a part of ciss and of coss: with the factors, neither cgs nor cds of the row is below zero.
    bool holds_reverse_capacitance(const Row& row) const {
        const double crss = row.crss_f * crss_factor;
        return crss <= row.ciss_f * ciss_factor && crss <= row.coss_f * coss_factor;
    }
    bool operator==(const CapacitanceTable&) const = default;
};

/// A capacitance between two terminals that depends on the voltage across it: (V, F), strictly rising in V.
struct CapacitanceCurve {
    std::vector<std::pair<double, double>> points;
    Origin place;
    bool operator==(const CapacitanceCurve&) const = default;
};

/// One die: its channel, its capacitances, what else is on the chip.
struct Die {
    Channel channel;
    std::variant<FixedCapacitance, CapacitanceTable> capacitance;
    double output_resistance_ohm = 0;           // `capacitance.output_resistance`
    std::optional<double> avalanche_voltage_v;  // of a cascode's MOSFET
    Origin place;                               // of the die's channel
    bool operator==(const Die&) const = default;
};

struct Package {
    double gate_h = 0;
    double drain_h = 0;
    double source_h = 0;
    /// Absent: no Kelvin lead, then the Kelvin pin is the source pin.
    std::optional<double> kelvin_h;
    // In series with the leads' inductances.
    double gate_resistance_ohm = 0;
    double drain_resistance_ohm = 0;
    double source_resistance_ohm = 0;
    double kelvin_resistance_ohm = 0;
    bool operator==(const Package&) const = default;
};

/// Where the lead of a cascode's JFET gate ends: on the MOSFET's source, or on the source pin.
enum class JfetGateTo { mosfet_source, source_pin };

struct Bonds {
    double mid_h = 0;        // MOSFET drain to JFET source
    double jfet_gate_h = 0;  // JFET gate to `jfet_gate_to`
    JfetGateTo jfet_gate_to = JfetGateTo::mosfet_source;
    bool operator==(const Bonds&) const = default;
};

struct Device {
    DeviceKind kind = DeviceKind::mosfet;
    DieResistance gate_resistance;
    Package package;
    /// Of a cascode its MOSFET; of any other kind the die, the keys `channel` and `capacitance` of the device
    /// itself.
    Die mosfet;
    // The rest is a cascode's.
    Die jfet;
    DieResistance jfet_gate_resistance;
    Bonds bonds;
    bool operator==(const Device&) const = default;
};

}  // namespace ringquell
