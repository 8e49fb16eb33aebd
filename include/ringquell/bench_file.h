// The bench file: what was measured on the board of a case, and with what (docs/bench.md).
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/case.h"

namespace ringquell {

/// Where the board stood while something was measured, as an explicit point of the case says it.
struct BenchPoint {
    Edge edge = Edge::turn_on;
    double vds_v = 0;
    double current_a = 0;  // of the whole switch
    Complementary complementary = Complementary::blocking;
};

/// One measurement. `key` is how the file names it, `records[2]`, for errors.
struct BenchRecord {
    enum class Kind { waveform, ring, impedance };
    std::string name;
    std::string key;
    Origin place;
    Kind kind = Kind::waveform;

    std::string file;  // of a waveform or an impedance: the path, beside the bench file
    // A waveform. An empty column is the first, or the second.
    std::string time_column, value_column;
    std::optional<double> from_s, to_s;
    // A ring: cycles over time, as a scope shows it. An error of 0: none was given.
    double frequency_hz = 0, frequency_error_hz = 0;
    double damping_ratio = 0, damping_error = 0;  // a decay τ to 1/e, ω = 2π·frequency: (1/τ)/√(1/τ² + ω²)
    // An impedance.
    std::optional<double> from_hz, to_hz;
    double error = 0.03;  // of its magnitude, a share; common practice for a calibrated analyser, no source

    std::string probe;  // its name; empty: nothing loads the board
    /// The nodes of the probe, or those of `between`, as `check --network` names them.
    std::string from, to;
    Origin nodes_place;

    bool unpowered = false;
    bool driver_high_impedance = false;  // unpowered, and the driver has no supply
    std::string point;                   // a point of the case's path, or
    std::optional<BenchPoint> given;     // a point of its own
    Origin at_place;
};

/// What the case cannot say of a record, as one standard error: probes delay, capacitances move while it rings. It
/// is added to the record's own in squares. Common practice, no source.
struct ModelError {
    double frequency = 0.01;          // a share
    double damping = 0.10;            // a share
    double damping_at_least = 0.002;  // a damping ratio
};

struct BenchFile {
    std::string file;
    std::string case_file;  // its path, beside the bench file
    Case input;             // as read, with the settings
    std::vector<Probe> probes;
    std::vector<BenchRecord> records;  // one at least
    ModelError model_error;
    /// The tolerances of what is not known: of `unknown`, or else the case's own `spread`.
    std::vector<Tolerance> unknown;
    bool unknown_typical = false;  // `unknown: typical`
    bool unknown_given = false;    // false: the case's own
    std::vector<Warning> warnings;
};

/// Reads a bench file and its case, which `settings` change as `--set` does. Waveforms and impedances are named, and
/// there, but not read. Throws InputError with file, line, column, key, what was found and what was expected. Files
/// read or named are added to `files_read`, this one first.
BenchFile read_bench(const std::string& path, const std::vector<std::string>& settings = {},
                     std::vector<std::string>* files_read = nullptr);

}  // namespace ringquell
