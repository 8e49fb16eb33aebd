#include "devices/gate_current.h"

#include <algorithm>
#include <cmath>

namespace ringquell::internal {

double bead_ohm(const std::optional<Bead>& bead) {
    return bead ? bead->dc_resistance_ohm : 0;
}

double lead_ohm(const Package& package) {
    return package.gate_resistance_ohm +
           (package.kelvin_h ? package.kelvin_resistance_ohm : package.source_resistance_ohm);
}

double gate_resistor_ohm(const GatePath& path, Edge edge) {
    const double resistor = path.resistor_ohm.of(edge);
    if (!path.diode || path.diode->blocks == edge) return resistor;
    const double branch = path.diode->resistor_ohm + path.diode->on_resistance_ohm;
    return resistor + branch == 0 ? 0 : resistor * branch / (resistor + branch);
}

std::optional<double> estimated_gate_current_a(const Case& input, const OperatingPoint& point) {
    const auto solved = [](const DeviceValues& d) { return d.solved; };
    if (!input.operation.drive || !std::all_of(point.devices.begin(), point.devices.end(), solved))
        return std::nullopt;
    const bool on = point.edge == Edge::turn_on;
    const double level_v = on ? input.operation.drive->high_v : input.operation.drive->low_v;
    const double driver_ohm =
        on ? input.driver.pull_up_resistance_ohm : input.driver.pull_down_resistance_ohm;
    const bool shared = input.driver.per_position == DriverSharing::shared;
    double conductance_s = 0, current_a = 0;
    for (int i = 0; i < input.n(); ++i) {
        const Position& p = input.positions[static_cast<size_t>(i)];
        const DeviceValues& device = point.device(i);
        const double ohm = gate_resistor_ohm(p.gate_path, point.edge) + bead_ohm(p.gate_path.bead) +
                           p.kelvin().resistor_ohm + bead_ohm(p.kelvin().bead) + device.gate_resistance_ohm +
                           lead_ohm(p.device.package) + (shared ? 0 : driver_ohm);
        if (ohm == 0) return std::nullopt;
        conductance_s += 1 / ohm;
        current_a += (level_v - device.gate_voltage_v) / ohm;
    }
    if (shared) current_a /= 1 + driver_ohm * conductance_s;
    return std::abs(current_a) / input.n();
}

bool has_saturating_bead(const Case& input) {
    const auto saturates = [](const std::optional<Bead>& bead) { return bead && !bead->saturation.empty(); };
    return std::any_of(input.positions.begin(), input.positions.end(), [&](const Position& p) {
        return saturates(p.gate_path.bead) || saturates(p.kelvin().bead);
    });
}

bool bias_moves_with_resistor(const Case& input, const OperatingPoint& point) {
    if (!has_saturating_bead(input)) return false;
    return std::none_of(input.operation.points.begin(), input.operation.points.end(),
                        [&](const Point& p) { return p.gate_current_a && point.stage.starts_with(p.name); });
}

OperatingPoint with_own_gate_current(const Case& input, OperatingPoint point) {
    if (!bias_moves_with_resistor(input, point)) return point;
    const auto estimate = estimated_gate_current_a(input, point);
    point.gate_current_a = estimate.value_or(0);
    point.gate_current_estimated = estimate.has_value();
    return point;
}

bool same_network_with_any_resistor(const OperatingPoint& a, const OperatingPoint& b) {
    return same_network(a, b) && a.gate_current_estimated == b.gate_current_estimated;
}

}  // namespace ringquell::internal
