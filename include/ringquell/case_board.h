// The board of the case: what joins a position to the rest, and what the positions share.
#pragma once

#include <array>
#include <complex>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "ringquell/case_device.h"
#include "ringquell/error.h"

namespace ringquell {

enum class Edge { turn_on, turn_off };

// ---- what joins a position to the rest ------------------------------------------------------------------

struct BeadSection {
    double resistance_ohm = 0;
    double inductance_h = 0;
    bool operator==(const BeadSection&) const = default;
};

/// The points that a bead was fitted to, for plots; null of a bead that no curve gives. No part of its value,
/// so all are equal.
struct MeasuredCurve {
    struct Point {
        double frequency_hz = 0;
        std::complex<double> impedance_ohm;
    };
    std::shared_ptr<const std::vector<Point>> points = nullptr;
    bool operator==(const MeasuredCurve&) const { return true; }
};

/// `dc_resistance` in series with the sections (each R ‖ L, in series with each other), one capacitance
/// across all sections.
struct Bead {
    std::string name;  // where it was read from, empty where it is written in the case
    double dc_resistance_ohm = 0;
    double capacitance_f = 0;
    std::vector<BeadSection> sections;
    /// (bias in A, share of inductance and resistance left)
    std::vector<std::pair<double, double>> saturation;
    MeasuredCurve measured = {};
    bool operator==(const Bead&) const = default;
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
    double resistance_ohm = 0;
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
    /// At every operating point; absent: that of the operation.
    std::optional<double> junction_temperature_degc;
    /// The Kelvin path, a wire where there is none: for sums over what stands in it.
    const KelvinPath& kelvin() const {
        static const KelvinPath none;
        return kelvin_path ? *kelvin_path : none;
    }
    bool operator==(const Position&) const = default;
};

// ---- what is shared -------------------------------------------------------------------------------------

enum class Rail { gate, kelvin, drain, source };

/// A rail whose taps lie in a row: N − 1 segments, segment k from tap k to tap k + 1.
struct Bus {
    std::vector<double> inductance_h;
    std::vector<double> resistance_ohm;
    int feed_at = 1;
    bool operator==(const Bus&) const = default;
};

/// By Rail; absent: all taps are one node.
using Buses = std::array<std::optional<Bus>, 4>;

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
/// `driver.return`, `power_loop`, `dc_link`, `package.gate`, `buses.drain` (every segment),
/// `buses.drain[1]`, `snubber`, `gate_shunt`, `leg`, ...
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
    Origin place;
    bool operator==(const Coupling&) const = default;
};

// ---- what hangs on the board while something is measured ------------------------------------------------

/// A probe between two nodes, named as `check --network` names them: resistance beside capacitance, behind the
/// inductance of its leads. Neither of both: it is nothing.
struct Probe {
    std::string name;
    std::string from, to;
    double capacitance_f = 0;
    std::optional<double> resistance_ohm;  // absent: none
    double inductance_h = 0;
    Origin place;
    /// Does it carry a current at all?
    bool stands() const { return capacitance_f != 0 || resistance_ohm.has_value(); }
    bool operator==(const Probe&) const = default;
};

}  // namespace ringquell
