#include "ringquell/switching.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "gate_current.h"
#include "statics.h"

namespace ringquell {

double GateResistances::resistor_heat_share() const {
    if (total_ohm() <= 0 || branch_ohm <= 0) return 0;
    const double share_of_current = path_ohm / branch_ohm;  // 1 where nothing is beside it
    return share_of_current * share_of_current * resistor_ohm / total_ohm();
}

GateResistances gate_resistances(const Case& input, Edge edge, int position, double chip_ohm) {
    const Position& p = input.positions[static_cast<size_t>(position)];
    GateResistances out;
    out.resistor_ohm = out.branch_ohm = p.gate_path.resistor_ohm.of(edge);
    out.path_ohm = gate_resistor_ohm(p.gate_path, edge);
    if (p.gate_path.diode && p.gate_path.diode->blocks != edge) {
        out.branch_ohm = p.gate_path.diode->resistor_ohm + p.gate_path.diode->on_resistance_ohm;
        out.resistor_ohm = p.gate_path.diode->resistor_ohm;
    }
    out.bead_ohm = bead_ohm(p.gate_path.bead) + bead_ohm(p.kelvin_path.bead);
    out.kelvin_ohm = p.kelvin_path.resistor_ohm;
    out.chip_ohm = chip_ohm;
    const double driver =
        edge == Edge::turn_on ? input.driver.pull_up_resistance_ohm : input.driver.pull_down_resistance_ohm;
    out.driver_ohm = driver * (input.driver.per_position == DriverSharing::shared ? input.n() : 1);
    return out;
}

std::optional<double> gate_transfer_time_s(double resistance_ohm, double capacitance_f, double drive_v,
                                           double from_v, double to_v) {
    if ((drive_v - from_v) * (drive_v - to_v) <= 0) return std::nullopt;
    const double share = (drive_v - from_v) / (drive_v - to_v);
    if (share < 1) return std::nullopt;
    return resistance_ohm * capacitance_f * std::log(share);
}

std::optional<double> SwitchingEstimate::transfer_s() const {
    if (!current_transfer_s || !voltage_transfer_s) return std::nullopt;
    return *current_transfer_s + *voltage_transfer_s;
}

namespace {

/// What the estimates need of the devices: means over the positions.
class Devices {
  public:
    Devices(const Case& input, const std::vector<OperatingPoint>& points, Edge edge)
        : input_(input),
          devices_(prepare_devices(input, {}, input.operation.junction_temperatures_degc.front())) {
        for (const OperatingPoint& p : points)
            if (p.edge == edge && (!highest_ || p.vds_v > highest_->vds_v)) highest_ = &p;
    }

    const ParallelDevices& parallel() const { return devices_; }
    const PreparedDevice& of(int position) const {
        return devices_.distinct
            [devices_.of_position[devices_.of_position.size() == 1 ? 0 : static_cast<size_t>(position)]];
    }
    bool cascode() const { return devices_.distinct.front().kind == DeviceKind::cascode; }

    /// A die's capacitances at its own voltage; a point's override where they do not depend on it.
    DieValues at(int position, bool jfet, double vds) const {
        const PreparedDie& die = jfet ? *of(position).jfet : of(position).mosfet;
        DieValues out;
        if (!die.capacitance.is_table() && highest_ != nullptr)
            out = jfet ? highest_->device(position).jfet : highest_->device(position).mosfet;
        else
            die.capacitance.at(vds, out);
        return out;
    }

    /// ∫ C_gd dv from 0 to `to_v`: trapezoids in steps that grow with the voltage.
    double reverse_charge_c(int position, bool jfet, double to_v) const {
        constexpr int steps = 400;
        double sum = 0, before_v = 0, before_f = at(position, jfet, 0).cgd_f;
        for (int k = 1; k <= steps; ++k) {
            const double share = static_cast<double>(k) / steps;
            const double v = to_v * share * share, f = at(position, jfet, v).cgd_f;
            sum += 0.5 * (f + before_f) * (v - before_v);
            before_v = v;
            before_f = f;
        }
        return sum;
    }

    template <class F>
    double mean(F&& value) const {
        double sum = 0;
        for (int i = 0; i < input_.n(); ++i) sum += value(i);
        return sum / input_.n();
    }

  private:
    const Case& input_;
    ParallelDevices devices_;
    const OperatingPoint* highest_ = nullptr;
};

double capacitance_of(const std::optional<SeriesRlc>& part) {
    return part ? part->capacitance_f : 0;
}

GateResistances mean_resistances(const Case& input, Edge edge, const Devices& devices) {
    GateResistances out;
    for (int i = 0; i < input.n(); ++i) {
        const GateResistances r = gate_resistances(input, edge, i, devices.of(i).gate_resistance_ohm);
        out.resistor_ohm += r.resistor_ohm / input.n();
        out.branch_ohm += r.branch_ohm / input.n();
        out.path_ohm += r.path_ohm / input.n();
        out.bead_ohm += r.bead_ohm / input.n();
        out.kelvin_ohm += r.kelvin_ohm / input.n();
        out.chip_ohm += r.chip_ohm / input.n();
        out.driver_ohm += r.driver_ohm / input.n();
    }
    return out;
}

std::optional<double> threshold_of(const ParallelDevices& devices) {
    if (!devices.has_statics()) return std::nullopt;
    double least = std::numeric_limits<double>::infinity();
    for (const PreparedDevice& d : devices.distinct) least = std::min(least, d.mosfet.channel.threshold_v());
    return least;
}

/// Fills one estimate step by step; a step that cannot be taken leaves a note.
class Estimator {
  public:
    Estimator(const Case& input, const std::vector<OperatingPoint>& points, Edge edge, double frequency_hz)
        : input_(input), devices_(input, points, edge), edge_(edge), frequency_hz_(frequency_hz) {}

    SwitchingEstimate run() {
        out_.edge = edge_;
        out_.cascode = devices_.cascode();
        out_.gate = mean_resistances(input_, edge_, devices_);
        const auto& operation = input_.operation;
        bus_v_ = operation.bus_voltage_v.value_or(0);
        out_.input_capacitance_f = devices_.mean([&](int i) {
            const DieValues die = devices_.at(i, false, out_.cascode ? 0 : bus_v_);
            return die.cgs_f + die.cgd_f + board_f(i);
        });
        out_.gate_time_constant_s = out_.gate.total_ohm() * out_.input_capacitance_f;
        out_.threshold_v = threshold_of(devices_.parallel());
        if (!out_.threshold_v)
            note("the channel is given by fixed values, so its threshold and plateau are not known");
        if (!operation.bus_voltage_v || !operation.load_current_a) {
            note(
                "`operation.bus_voltage` and `operation.load_current` are needed for transfer times and "
                "energies");
            return std::move(out_);
        }
        out_.snubber_loss_w = devices_.mean([&](int i) {
            return capacitance_of(input_.positions[static_cast<size_t>(i)].snubber) * bus_v_ * bus_v_ *
                   frequency_hz_;
        });
        plateau();
        current_transfer();
        if (out_.cascode)
            cascode_voltage_transfer();
        else
            voltage_transfer();
        if (out_.voltage_transfer_s && *out_.voltage_transfer_s > 0)
            out_.dv_dt_v_per_s = bus_v_ / *out_.voltage_transfer_s;
        if (const auto both = out_.transfer_s())
            out_.switching_energy_j = 0.5 * bus_v_ * *operation.load_current_a * *both;
        gate_power();
        return std::move(out_);
    }

  private:
    void note(std::string text) { out_.notes.push_back(std::move(text)); }
    double board_f(int i) const {
        const Position& p = input_.positions[static_cast<size_t>(i)];
        return capacitance_of(p.gate_shunt) + capacitance_of(p.gate_drain);
    }
    /// Drive level of the edge.
    double drive_v() const {
        return edge_ == Edge::turn_on ? input_.operation.drive->high_v : input_.operation.drive->low_v;
    }

    void plateau() {
        if (!out_.threshold_v) return;
        try {
            out_.plateau_v =
                static_bias(devices_.parallel(),
                            {bus_v_, *input_.operation.load_current_a, "the plateau of the estimate", {}})
                    .front()
                    .gate_voltage_v;
        } catch (const InputError& error) {
            note(fmt::format("the plateau voltage is not known: {}", error.what()));
        }
    }

    void current_transfer() {
        if (!input_.operation.drive)
            return note("`operation.drive` is needed for the gate's times and charge");
        if (!out_.plateau_v) return;
        const bool on = edge_ == Edge::turn_on;
        out_.current_transfer_s = gate_transfer_time_s(out_.gate.total_ohm(), out_.input_capacitance_f,
                                                       drive_v(), on ? *out_.threshold_v : *out_.plateau_v,
                                                       on ? *out_.plateau_v : *out_.threshold_v);
        if (!out_.current_transfer_s) note("the drive level does not lie beyond threshold and plateau");
    }

    void voltage_transfer() {
        if (!out_.plateau_v || !input_.operation.drive) return;
        const double over = std::abs(drive_v() - *out_.plateau_v);
        const bool beyond =
            edge_ == Edge::turn_on ? drive_v() > *out_.plateau_v : drive_v() < *out_.plateau_v;
        if (!beyond) return;
        const double charge = devices_.mean([&](int i) {
            return devices_.reverse_charge_c(i, false, bus_v_) +
                   capacitance_of(input_.positions[static_cast<size_t>(i)].gate_drain) * bus_v_;
        });
        out_.voltage_transfer_s = out_.gate.total_ohm() * charge / over;
    }

    void cascode_voltage_transfer() {
        note(
            "a cascode: the gate does not set dv/dt; the load current charges the JFET's gate-drain "
            "capacitance and "
            "the snubber, through the JFET's built-in gate resistor");
        if (*input_.operation.load_current_a <= 0)
            return note("without load current the voltage transfer has no time");
        const double reverse =
            devices_.mean([&](int i) { return devices_.reverse_charge_c(i, true, bus_v_); });
        const double snubber = devices_.mean(
            [&](int i) { return capacitance_of(input_.positions[static_cast<size_t>(i)].snubber) * bus_v_; });
        const double lag = devices_.mean([&](int i) {
            return devices_.of(i).jfet_gate_resistance_ohm * devices_.reverse_charge_c(i, true, bus_v_) /
                   bus_v_;
        });
        out_.voltage_transfer_s = input_.n() * (reverse + snubber) / *input_.operation.load_current_a + lag;
    }

    void gate_power() {
        if (!input_.operation.drive) return;
        const double swing = input_.operation.drive->high_v - input_.operation.drive->low_v;
        out_.gate_charge_c = devices_.mean([&](int i) {
            const DieValues on = devices_.at(i, false, 0);
            // A cascode's MOSFET lets its drain move by some volts alone.
            const double reverse = out_.cascode ? 0 : devices_.reverse_charge_c(i, false, bus_v_);
            return (on.cgs_f + on.cgd_f + board_f(i)) * swing + reverse;
        });
        out_.resistor_power_w =
            0.5 * *out_.gate_charge_c * swing * frequency_hz_ * out_.gate.resistor_heat_share();
    }

    const Case& input_;
    Devices devices_;
    Edge edge_;
    double frequency_hz_;
    double bus_v_ = 0;
    SwitchingEstimate out_;
};

}  // namespace

SwitchingEstimate estimate_switching(const Case& input, const std::vector<OperatingPoint>& points, Edge edge,
                                     double switching_frequency_hz) {
    return Estimator(input, points, edge, switching_frequency_hz).run();
}

double induced_rise_v(double cgs_f, double cgd_f, double dv_dt_v_per_s, double time_s, double resistance_ohm,
                      const std::vector<BeadSection>& sections) {
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
    const Devices devices(input, points, Edge::turn_off);
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
        const DieValues die = devices.at(i, false, turn_on.cascode ? 0 : swing);
        const double reverse =
            (turn_on.cascode ? die.cgd_f : devices.reverse_charge_c(i, false, swing) / swing) +
            (turn_on.cascode ? 0 : capacitance_of(p.gate_drain));
        const double ohm = gate_resistances(input, Edge::turn_off, i, device.gate_resistance_ohm).total_ohm();
        std::vector<BeadSection> sections;
        for (const auto* bead : {&p.gate_path.bead, &p.kelvin_path.bead})
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
