// The case: what an engineer wrote, as plain values in SI units. docs/case-file.md describes the keys,
// docs/model.md what they mean electrically. Defaults are written here and nowhere else: an absent
// resistance or inductance in series is zero (a wire), an absent block is absent.
#pragma once

#include <array>
#include <complex>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "ringquell/error.h"

namespace ringquell {

enum class Edge { turn_on, turn_off };
enum class DeviceKind { mosfet, cascode };
/// What the complementary device (the other switch of the half bridge) does at an operating point.
enum class Complementary { conducting, blocking };

// ---- a device -------------------------------------------------------------------------------------------

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
    std::optional<double> junction_temperature_degc;  // absent: the only curve, holds at every temperature
    std::vector<std::pair<double, double>> points;    // (V, A), strictly rising in V, never falling in A
    Place place;
    bool operator==(const TransferCurve& o) const {
        return junction_temperature_degc == o.junction_temperature_degc && points == o.points;
    }
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
    Place place;
    /// At which gate-source voltage the curves were taken: a row's v(D,G) is its vds less this. Absent: 0 V,
    /// of a JFET (which conducts at 0 V) its threshold.
    std::optional<double> gate_voltage_v;
    double ciss_factor = 1, coss_factor = 1, crss_factor = 1;  // what the spread scales
    bool operator==(const CapacitanceTable& o) const {
        return rows == o.rows && gate_voltage_v == o.gate_voltage_v && ciss_factor == o.ciss_factor &&
               coss_factor == o.coss_factor && crss_factor == o.crss_factor;
    }
};

/// A capacitance between two terminals that depends on the voltage across it: (V, F), strictly rising in V.
struct CapacitanceCurve {
    std::vector<std::pair<double, double>> points;
    Place place;
    bool operator==(const CapacitanceCurve& o) const { return points == o.points; }
};

/// One die: its channel, its capacitances, what else is on the chip.
struct Die {
    Channel channel;
    std::variant<FixedCapacitance, CapacitanceTable> capacitance;
    double output_resistance_ohm = 0;           // `capacitance.output_resistance`
    std::optional<double> avalanche_voltage_v;  // of a cascode's MOSFET
    Place place;                                // of the die's channel
    bool operator==(const Die& o) const {
        return channel == o.channel && capacitance == o.capacitance &&
               output_resistance_ohm == o.output_resistance_ohm &&
               avalanche_voltage_v == o.avalanche_voltage_v;
    }
};

struct Package {
    double gate_h = 0;
    double drain_h = 0;
    double source_h = 0;
    std::optional<double> kelvin_h;  // absent: no Kelvin lead, then the Kelvin pin is the source pin
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
    Die mosfet;  // of kind mosfet, the keys `channel` and `capacitance` of the device itself
    // The rest is a cascode's.
    Die jfet;
    DieResistance jfet_gate_resistance;
    Bonds bonds;
    bool operator==(const Device&) const = default;
};

// ---- what joins a position to the rest ------------------------------------------------------------------

struct BeadSection {
    double resistance_ohm = 0;
    double inductance_h = 0;
    bool operator==(const BeadSection&) const = default;
};

/// `dc_resistance` in series with the sections (each R ‖ L, in series with each other), one capacitance
/// across all sections.
struct Bead {
    struct Measured {
        double frequency_hz = 0;
        std::complex<double> impedance_ohm;
    };
    std::string name;  // where it was read from, empty where it is written in the case
    double dc_resistance_ohm = 0;
    double capacitance_f = 0;
    std::vector<BeadSection> sections;
    std::vector<std::pair<double, double>>
        saturation;  // (bias in A, share of inductance and resistance left)
    /// Of a bead given by a curve: the points it was fitted to, for plots; no part of its value.
    std::shared_ptr<const std::vector<Measured>> measured = nullptr;
    bool operator==(const Bead& o) const {
        return name == o.name && dc_resistance_ohm == o.dc_resistance_ohm &&
               capacitance_f == o.capacitance_f && sections == o.sections && saturation == o.saturation;
    }
};

struct PerEdge {
    double turn_on = 0;
    double turn_off = 0;
    double of(Edge edge) const { return edge == Edge::turn_on ? turn_on : turn_off; }
    bool operator==(const PerEdge&) const = default;
};

/// In series with `resistor_ohm`, across the gate resistor: on the edge that it blocks it is a capacitance,
/// on the other it conducts through `on_resistance`.
struct GateDiode {
    Edge blocks = Edge::turn_on;
    double capacitance_f = 0;
    double on_resistance_ohm = 0;
    double resistor_ohm = 0;
    bool operator==(const GateDiode&) const = default;
};

struct GatePath {
    PerEdge resistor_ohm;
    std::optional<GateDiode> diode;
    std::optional<Bead> bead;
    double inductance_h = 0;
    bool operator==(const GatePath&) const = default;
};

struct KelvinPath {
    double resistor_ohm = 0;
    std::optional<Bead> bead;
    double inductance_h = 0;
    bool operator==(const KelvinPath&) const = default;
};

struct PowerPath {
    double resistance_ohm = 0;
    double inductance_h = 0;
    bool operator==(const PowerPath&) const = default;
};

/// Capacitance, resistance and inductance in series.
struct SeriesRlc {
    double capacitance_f = 0;
    double resistance_ohm = 0;
    double inductance_h = 0;
    bool operator==(const SeriesRlc&) const = default;
};

/// A capacitor with what a real one has.
struct Capacitor {
    double capacitance_f = 0;
    double esr_ohm = 0;
    double esl_h = 0;
    bool operator==(const Capacitor&) const = default;
};

/// Two equal windings, one in the gate path, one in the Kelvin path; the go-and-return current sees `leakage`
/// alone.
struct CommonModeChoke {
    double inductance_h = 0;
    double leakage_h = 0;
    std::optional<double> resistance_ohm;  // across each winding; absent: none
    bool operator==(const CommonModeChoke&) const = default;
};

struct ComplementaryDevice {
    double capacitance_f = 0;               // while it blocks; where no curve is given
    std::optional<CapacitanceCurve> curve;  // against its own voltage, bus voltage − vds
    double resistance_ohm = 0;              // in series with the capacitance
    double on_resistance_ohm = 0;           // while it conducts
    bool operator==(const ComplementaryDevice&) const = default;
};

/// A complementary device and a DC-link capacitor of one position alone, beside the shared power loop.
struct Leg {
    double inductance_h = 0;
    ComplementaryDevice complementary;
    std::optional<Capacitor> dc_link;
    bool operator==(const Leg&) const = default;
};

/// All that may differ from position to position.
struct Position {
    Device device;
    GatePath gate_path;
    std::optional<KelvinPath> kelvin_path = KelvinPath{};  // empty: the Kelvin pin goes nowhere
    PowerPath drain_path;
    PowerPath source_path;
    std::optional<SeriesRlc> snubber;     // drain pin to source pin
    std::optional<SeriesRlc> gate_shunt;  // gate pin to Kelvin pin
    std::optional<SeriesRlc> gate_drain;  // gate pin to drain pin; no inductance
    std::optional<SeriesRlc> tab;         // drain to the tab all share; no inductance
    std::optional<CommonModeChoke> common_mode_choke;
    std::optional<Leg> leg;
    /// The Kelvin path, a wire where there is none: for sums over what stands in it.
    const KelvinPath& kelvin() const {
        static const KelvinPath none;
        return kelvin_path ? *kelvin_path : none;
    }
    bool operator==(const Position&) const = default;
};

// ---- what is shared -------------------------------------------------------------------------------------

enum class Rail { gate, kelvin, drain, source };
inline constexpr std::array<const char*, 4> rail_names{"gate", "kelvin", "drain", "source"};

/// A rail whose taps lie in a row: N − 1 segments, segment k from tap k to tap k + 1.
struct Bus {
    std::vector<double> inductance_h;
    std::vector<double> resistance_ohm;
    int feed_at = 1;
    bool operator==(const Bus&) const = default;
};

enum class DriverSharing { shared, buffer, isolated };
enum class DriverReturn { kelvin_rail, source_rail };

struct Driver {
    double pull_up_resistance_ohm = 0;
    double pull_down_resistance_ohm = 0;
    double inductance_h = 0;
    double return_inductance_h = 0;
    std::optional<Capacitor> bypass;
    std::optional<Capacitor> turn_off_bypass;
    DriverSharing per_position = DriverSharing::shared;
    double barrier_capacitance_f = 0;
    double barrier_resistance_ohm = 0;
    DriverReturn return_to = DriverReturn::kelvin_rail;
    bool operator==(const Driver&) const = default;
};

struct Load {
    std::optional<double> inductance_h;  // absent: open
    double capacitance_f = 0;
    double resistance_ohm = 0;  // in series with the capacitance
    bool operator==(const Load&) const = default;
};

struct PowerLoop {
    double inductance_h = 0;
    double resistance_ohm = 0;
    ComplementaryDevice complementary;
    std::optional<Capacitor> dc_link;
    std::optional<Load> load;
    bool operator==(const PowerLoop&) const = default;
};

/// An inductance as a coupling names it: `gate_path` (every position), `drain_path[2]`, `driver`,
/// `driver.return`, `power_loop`, `dc_link`, `package.gate`, `buses.drain[1]`, `snubber`, `gate_shunt`,
/// `leg`, ...
struct InductanceName {
    std::string name;
    std::optional<int> index;  // from 1
    bool operator==(const InductanceName&) const = default;
};

/// Exactly one of `coefficient` and `mutual_h` is given.
struct Coupling {
    InductanceName first;
    InductanceName second;
    std::optional<double> coefficient;
    std::optional<double> mutual_h;
    Place place;
    bool operator==(const Coupling& o) const {
        return first == o.first && second == o.second && coefficient == o.coefficient &&
               mutual_h == o.mutual_h;
    }
};

// ---- where it operates, what is required -----------------------------------------------------------------

struct Drive {
    double high_v = 0;
    double low_v = 0;
    std::optional<double> rise_s, fall_s;  // of the drive's ramps; absent: a step
    std::optional<double> ramp_s(Edge edge) const { return edge == Edge::turn_on ? rise_s : fall_s; }
    bool operator==(const Drive&) const = default;
};

/// A turn-off that is slowed down on purpose, after a short circuit, say.
struct SoftTurnOff {
    double ramp_s = 0;
    std::optional<double> current_a;  // absent: the load current
    bool operator==(const SoftTurnOff&) const = default;
};

/// The default walk along the switching locus.
struct Path {
    int steps = 24;
    std::optional<double> peak_current_a;
    bool plateau = false;                       // judge a cascode's plateau held (require.judge_held)
    std::map<std::string, double> durations_s;  // stage ("turn_on current", ...) to time in it
    bool operator==(const Path&) const = default;
};

struct Point {
    std::string name;
    Edge edge = Edge::turn_on;
    double vds_v = 0;
    double current_a = 0;
    Complementary complementary = Complementary::blocking;
    std::optional<double> gate_current_a;  // for a bead's saturation; absent: estimated
    /// The devices here, with the point's own `device` block merged in: one where all positions are alike,
    /// else N. Empty: the positions' devices as they are.
    std::vector<Device> devices;
    Place place;
    bool operator==(const Point& o) const {
        return name == o.name && edge == o.edge && vds_v == o.vds_v && current_a == o.current_a &&
               complementary == o.complementary && gate_current_a == o.gate_current_a && devices == o.devices;
    }
};

struct Operation {
    std::optional<double> bus_voltage_v;
    std::optional<double> load_current_a;  // of the whole switch
    std::optional<Drive> drive;
    std::optional<SoftTurnOff> soft_turn_off;
    std::vector<double> junction_temperatures_degc{25};
    std::optional<Path> path;  // absent: only the points; present too where the case has neither
    std::vector<Point> points;
    Place place;
    bool operator==(const Operation& o) const {
        return bus_voltage_v == o.bus_voltage_v && load_current_a == o.load_current_a && drive == o.drive &&
               soft_turn_off == o.soft_turn_off &&
               junction_temperatures_degc == o.junction_temperatures_degc && path == o.path &&
               points == o.points;
    }
};

struct Requirement {
    double differential_damping = 0;
    std::optional<double> common_damping;  // absent: common modes are reported, and fail only if they grow
    double band_low_hz = 1e6;
    double band_high_hz = 300e6;
    double gate_resistance_limit_ohm = 47;
    double worst_damping = 0.03;  // what the worst sample of a spread must keep
    double passing_growth = 10;   // the most by which a disturbance may grow in one passage (growth.h)
    /// Stages ("turn_on plateau", or "all") judged as if the edge stood still there, which by default are
    /// judged in passing.
    std::vector<std::string> judge_held;
    double pass_share = 0.99;  // of all boards must meet all of this: the lower bound of a spread, 95 %
    /// Differential modes need min(differential_damping, this + what the gain takes); absent:
    /// differential_damping.
    std::optional<double> passive_damping;
    std::optional<double> gain_margin;  // by which all gains may rise before anything grows; absent: told
    bool operator==(const Requirement&) const = default;
};

/// `position`: each position has its own deviation; `batch`: all move together.
enum class Vary { position, batch };
/// `uniform` within the tolerance; `normal` with a standard deviation of a third of it, cut off there.
enum class Distribution { uniform, normal };

/// With the tolerance of the same `vary` of another key; the coefficient is that of the normal copula.
struct Correlation {
    std::string with;
    double coefficient = 0;
    bool operator==(const Correlation&) const = default;
};

/// docs/spread.md. The key is one of numbers.h, or `gate_path.bead` or `kelvin_path.bead` for a whole
/// impedance curve.
struct Tolerance {
    std::string key;
    double amount = 0;      // a share of the nominal value, or SI
    bool relative = false;  // a share
    double at_least =
        0;  // SI; where the amount is less, this holds, but a tenth of the nominal value is always left
    Vary vary = Vary::position;
    Distribution distribution = Distribution::uniform;
    std::optional<Correlation> correlation;
    Place place;
    bool operator==(const Tolerance& o) const {
        return key == o.key && amount == o.amount && relative == o.relative && at_least == o.at_least &&
               vary == o.vary && distribution == o.distribution && correlation == o.correlation;
    }
};

struct Case {
    std::string file;
    std::string title;
    std::vector<Position> positions;          // N of them, overrides merged in
    std::array<std::optional<Bus>, 4> buses;  // by Rail
    Driver driver;
    PowerLoop power_loop;
    std::vector<Coupling> couplings;
    Operation operation;
    Requirement require;
    std::vector<Tolerance> spread;
    std::vector<Warning> warnings;  // what the reader noticed

    int n() const { return static_cast<int>(positions.size()); }
    const std::optional<Bus>& bus(Rail rail) const { return buses[static_cast<size_t>(rail)]; }
};

}  // namespace ringquell
