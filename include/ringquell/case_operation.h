// Where the switch of the case operates, what is required of it, and what its numbers vary by.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/case_board.h"
#include "ringquell/case_device.h"
#include "ringquell/error.h"

namespace ringquell {

/// What the complementary device (the other switch of the half bridge) does at an operating point.
enum class Complementary { conducting, blocking };

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
    bool plateau = false;  // judge a cascode's plateau held (require.judge_held)
    /// From stage ("turn_on current", ...) to the time in it.
    std::map<std::string, double> durations_s;
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
    Origin place;
    bool operator==(const Point&) const = default;
};

struct Operation {
    std::optional<double> bus_voltage_v;
    std::optional<double> load_current_a;  // of the whole switch
    std::optional<Drive> drive;
    std::optional<SoftTurnOff> soft_turn_off;
    std::vector<double> junction_temperatures_degc{25};
    /// Absent: only the points. Present, too, where the case has neither.
    std::optional<Path> path;
    std::vector<Point> points;
    Origin place;
    bool operator==(const Operation&) const = default;
};

struct Requirement {
    double differential_damping = 0;
    /// Absent: common modes are reported, and fail only if they grow.
    std::optional<double> common_damping;
    double band_low_hz = 1e6;
    double band_high_hz = 300e6;
    double gate_resistance_limit_ohm = 47;
    double worst_damping = 0.03;  // what the worst sample of a spread must keep
    /// The most by which a disturbance may grow in one passage (growth.h).
    double passing_growth = 10;
    /// Stages ("turn_on plateau", or "all") judged as if the edge stood still there, which by default are
    /// judged in passing.
    std::vector<std::string> judge_held;
    /// Of all boards must meet all of this: the lower bound of a spread, 95 %.
    double pass_share = 0.99;
    /// Differential modes need min(differential_damping, this + what the gain takes); absent:
    /// differential_damping.
    std::optional<double> passive_damping;
    /// By which all gains may rise before anything grows; absent: told.
    std::optional<double> gain_margin;
    bool operator==(const Requirement&) const = default;
};

/// `position`: each position has its own deviation; `batch`: all move together.
enum class Vary { position, batch };
/// `uniform` within the tolerance; `normal` with a standard deviation of a third of it, cut off there.
enum class Distribution { uniform, normal };

/// With another tolerance: at each position with that of the same position, or, where the tolerance is of one number
/// alone, with any other of one number. The coefficient is that of the normal copula.
struct Correlation {
    std::string with;  // `gate_path.inductance`, or of one position `gate_path[2].inductance`
    double coefficient = 0;
    Origin place;
    bool operator==(const Correlation&) const = default;
};

/// docs/spread.md. The key is one of numbers.h, or `gate_path.bead` or `kelvin_path.bead` for a whole
/// impedance curve.
struct Tolerance {
    std::string key;
    double amount = 0;      // a share of the nominal value, or SI
    bool relative = false;  // a share
    /// SI; where the amount is less, this holds, but a tenth of the nominal value is always left.
    double at_least = 0;
    Vary vary = Vary::position;
    Distribution distribution = Distribution::uniform;
    /// Given what these name, it depends on no other tolerance than on those that are given by it.
    std::vector<Correlation> correlations;
    Origin place;
    bool operator==(const Tolerance&) const = default;
};

/// A number of the case that nobody has stated or measured.
struct Assumed {
    std::string key;  // one of numbers.h
    Origin place;
    bool operator==(const Assumed&) const = default;
};

/// A ring that was measured at a point of the path, to stand beside what is computed there. Nothing is judged
/// by it.
struct MeasuredRing {
    double frequency_hz = 0;              // cycles over time, as a scope shows it
    std::optional<double> decay_s;        // in which the amplitude falls to 1/e
    std::optional<double> damping_ratio;  // the one or the other
    std::string at;                       // a point's name
    Origin place;
    bool operator==(const MeasuredRing&) const = default;
};

}  // namespace ringquell
