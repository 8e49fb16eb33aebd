// The gate of the device that is held off while dv/dt passes.
#include <algorithm>
#include <cmath>
#include <limits>

#include "devices/switched_devices.h"
#include "estimates/gate_resistances.h"
#include "estimates/induced_rise.h"
#include "ringquell/switching.h"

namespace ringquell {

using namespace internal;

double internal::induced_rise_v(double cgs_f, double cgd_f, double dv_dt_v_per_s, double time_s,
                                double resistance_ohm, const std::vector<BeadSection>& sections) {
    const double current_a = cgd_f * dv_dt_v_per_s, input_f = cgs_f + cgd_f;
    std::vector<BeadSection> used;
    for (const BeadSection& s : sections)
        if (s.resistance_ohm > 0 && s.inductance_h > 0) used.push_back(s);
    if (input_f <= 0 || time_s <= 0) return current_a * resistance_ohm;
    if (used.empty()) {
        if (resistance_ohm == 0) return 0;
        return resistance_ohm * current_a * -std::expm1(-time_s / (resistance_ohm * input_f));
    }
    // v is the gate's voltage, i_k the current of a section's inductance; the path carries (v + Σ R_k·i_k)/(R
    // + Σ R_k). Trapezoidal rule, solved for the state by elimination of the sections: each is d(i_k)/dt = (i
    // − i_k)·R_k/L_k.
    double all_ohm = resistance_ohm;
    for (const BeadSection& s : used) all_ohm += s.resistance_ohm;
    constexpr int steps = 4000;
    const double h = time_s / steps;
    std::vector<double> current(used.size(), 0.0);
    double v = 0, path = 0, most = 0;
    for (int n = 0; n < steps; ++n) {
        // i_k' = p_k·i_k + q_k·(path + path'), with g = h·R_k/(2·L_k): p = (1 − g)/(1 + g), q = g/(1 + g).
        double known = 0, slope = 0;
        for (size_t k = 0; k < used.size(); ++k) {
            const double g = 0.5 * h * used[k].resistance_ohm / used[k].inductance_h;
            known += used[k].resistance_ohm * ((1 - g) / (1 + g) * current[k] + g / (1 + g) * path);
            slope += used[k].resistance_ohm * g / (1 + g);
        }
        // v' = v + h/C·(I − (path + path')/2) and path'·(all − slope) = v' + known.
        const double base = v + h / input_f * (current_a - 0.5 * path);
        const double next = (base + known) / (all_ohm - slope + 0.5 * h / input_f);
        for (size_t k = 0; k < used.size(); ++k) {
            const double g = 0.5 * h * used[k].resistance_ohm / used[k].inductance_h;
            current[k] = (1 - g) / (1 + g) * current[k] + g / (1 + g) * (path + next);
        }
        v = base - 0.5 * h / input_f * next;
        path = next;
        most = std::max(most, v);
    }
    return most;
}

std::optional<InducedGate> induced_gate(const Case& input, const std::vector<OperatingPoint>& points,
                                        const SwitchingEstimate& turn_on) {
    if (!turn_on.voltage_transfer_s || *turn_on.voltage_transfer_s <= 0 || !input.operation.drive)
        return std::nullopt;
    const SwitchedDevices devices(input, points, Edge::turn_off);
    InducedGate out;
    out.threshold_v = std::numeric_limits<double>::infinity();
    for (const double t : input.operation.junction_temperatures_degc) {
        const auto threshold = threshold_of(prepare_devices(input, {}, t));
        if (!threshold) return std::nullopt;
        out.threshold_v = std::min(out.threshold_v, *threshold);
    }
    const double time_s = *turn_on.voltage_transfer_s;
    for (int i = 0; i < input.n(); ++i) {
        const Position& p = input.positions[static_cast<size_t>(i)];
        const PreparedDevice& device = devices.of(i);
        const double swing =
            turn_on.cascode ? std::abs(device.jfet->channel.threshold_v()) : *input.operation.bus_voltage_v;
        const double held_v = input.operation.drive->low_v;
        const DieValues die = devices.at(i, false, turn_on.cascode ? 0 : swing, held_v);
        const double reverse =
            (turn_on.cascode ? die.cgd_f : devices.reverse_charge_c(i, false, swing, held_v) / swing) +
            (turn_on.cascode ? 0 : capacitance_of(p.gate_drain));
        const double ohm = gate_resistances(input, Edge::turn_off, i, device.gate_resistance_ohm).total_ohm();
        std::vector<BeadSection> sections;
        for (const auto* bead : {&p.gate_path.bead, &p.kelvin().bead})
            if (*bead) sections.insert(sections.end(), (*bead)->sections.begin(), (*bead)->sections.end());
        const double rise = induced_rise_v(die.cgs_f + capacitance_of(p.gate_shunt), reverse, swing / time_s,
                                           time_s, ohm, sections);
        if (rise < out.rise_v) continue;
        out.rise_v = rise;
        out.held_through_ohm = ohm;
    }
    out.gate_voltage_v = input.operation.drive->low_v + out.rise_v;
    return out;
}

}  // namespace ringquell
