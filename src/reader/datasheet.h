// What a datasheet states of a device, as a short list of its own (docs/starter.md).
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "ringquell/case.h"

namespace ringquell::internal {

struct DatasheetPackage {
    std::optional<double> gate_h, drain_h, source_h, kelvin_h;
};

struct Datasheet {
    Origin place;  // of its `threshold`, else of all
    std::string title;
    DeviceKind kind = DeviceKind::mosfet;
    std::optional<double> rated_voltage_v, rated_current_a;
    std::optional<double> drive_high_v, drive_low_v;  // the gate voltages that it recommends
    std::optional<double> threshold_v;
    std::vector<std::pair<double, double>> points;  // (V, A) of the channel beside `threshold`, rising
    std::vector<TransferCurve> transfer;            // in place of `points`
    std::optional<double> on_resistance_ohm;
    std::optional<double> gate_resistance_ohm;  // inside
    /// Against vds, one row or several; empty: not stated.
    std::vector<CapacitanceTable::Row> capacitance;
    std::optional<double> capacitance_gate_v;  // at which they were measured
    int leads = 4;                             // 3: no Kelvin lead
    DatasheetPackage package;
};

/// A case's rules for quantities, unknown and missing keys hold here, too.
Datasheet read_datasheet(const std::string& file, std::vector<std::string>* files_read);

}  // namespace ringquell::internal
