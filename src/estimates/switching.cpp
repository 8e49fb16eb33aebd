#include "ringquell/switching.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "devices/gate_current.h"
#include "devices/switched_devices.h"
#include "estimates/gate_resistances.h"

namespace ringquell {

using namespace internal;

double GateResistances::resistor_heat_share() const {
    if (total_ohm() <= 0 || branch_ohm <= 0) return 0;
    const double share_of_current = path_ohm / branch_ohm;  // 1 where nothing is beside it
    return share_of_current * share_of_current * resistor_ohm / total_ohm();
}

GateResistances internal::gate_resistances(const Case& input, Edge edge, int position, double chip_ohm) {
    const Position& p = input.positions[static_cast<size_t>(position)];
    GateResistances out;
    out.resistor_ohm = out.branch_ohm = p.gate_path.resistor_ohm.of(edge);
    out.path_ohm = gate_resistor_ohm(p.gate_path, edge);
    if (p.gate_path.diode && p.gate_path.diode->blocks != edge) {
        out.branch_ohm = p.gate_path.diode->resistor_ohm + p.gate_path.diode->on_resistance_ohm;
        out.resistor_ohm = p.gate_path.diode->resistor_ohm;
    }
    out.bead_ohm = bead_ohm(p.gate_path.bead) + bead_ohm(p.kelvin().bead);
    out.kelvin_ohm = p.kelvin().resistor_ohm;
    out.chip_ohm = chip_ohm + lead_ohm(p.device.package);
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

GateResistances mean_resistances(const Case& input, Edge edge, const SwitchedDevices& devices) {
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
        out_.threshold_v = threshold_of(devices_.parallel());
        if (operation.bus_voltage_v && operation.load_current_a) plateau();
        out_.input_capacitance_f = devices_.mean([&](int i) {
            const DieValues die = devices_.at(i, false, out_.cascode ? inner_v_ : bus_v_,
                                              out_.plateau_v ? out_.plateau_v : out_.threshold_v);
            return die.cgs_f + die.cgd_f + board_f(i);
        });
        out_.gate_time_constant_s = out_.gate.total_ohm() * out_.input_capacitance_f;
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
        current_transfer();
        if (out_.cascode)
            cascode_voltage_transfer();
        else
            voltage_transfer();
        load_charges_output();
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
            const DeviceBias bias =
                static_bias(devices_.parallel(),
                            {bus_v_, *input_.operation.load_current_a, "the plateau of the estimate", {}})
                    .front();
            out_.plateau_v = bias.gate_voltage_v;
            inner_v_ = bias.inner_voltage_v;
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
        if (!out_.current_transfer_s)
            return note("the drive level does not lie beyond threshold and plateau");
        // The drive itself takes its time between threshold and plateau.
        const auto ramp_s = input_.operation.drive->ramp_s(edge_);
        if (ramp_s && drive_swing_v() > 0)
            *out_.current_transfer_s +=
                *ramp_s * std::abs(*out_.plateau_v - *out_.threshold_v) / drive_swing_v();
    }

    double drive_swing_v() const {
        return std::abs(input_.operation.drive->high_v - input_.operation.drive->low_v);
    }

    /// The time in which the gate current moves C_gd's charge: (V_drive − V_plateau)/R, and while the drive
    /// still ramps what it has gained since the plateau over R.
    double transfer_time_s(double charge_c, double over_v) const {
        const double ohm = out_.gate.total_ohm(), step_s = ohm * charge_c / over_v;
        const double ramp_s = input_.operation.drive->ramp_s(edge_).value_or(0);
        if (ramp_s <= 0 || drive_swing_v() <= 0) return step_s;
        const double rate_v_per_s = drive_swing_v() / ramp_s;
        const double ramped_s = std::sqrt(2 * ohm * charge_c / rate_v_per_s), left_s = over_v / rate_v_per_s;
        if (ramped_s <= left_s) return std::max(step_s, ramped_s);
        return left_s + (charge_c - 0.5 * rate_v_per_s * left_s * left_s / ohm) * ohm / over_v;
    }

    /// At turn-off the voltage rises no faster than the load charges what lies across the switch.
    void load_charges_output() {
        if (edge_ != Edge::turn_off || !out_.voltage_transfer_s || *input_.operation.load_current_a <= 0)
            return;
        double charge = charge_c(input_.power_loop.complementary, bus_v_);
        for (int i = 0; i < input_.n(); ++i) {
            const Position& p = input_.positions[static_cast<size_t>(i)];
            charge += devices_.output_charge_c(i, bus_v_, gate_in_transfer_v()) +
                      capacitance_of(p.snubber) * bus_v_;
            if (p.leg) charge += charge_c(p.leg->complementary, bus_v_);
        }
        out_.voltage_transfer_s =
            std::max(*out_.voltage_transfer_s, charge / *input_.operation.load_current_a);
    }

    /// The gate voltage of the die that takes the voltage, in the transfer: the plateau, of a JFET its
    /// source's.
    std::optional<double> gate_in_transfer_v() const {
        return out_.cascode ? std::optional(0.0) : out_.plateau_v;
    }

    void voltage_transfer() {
        if (!out_.plateau_v || !input_.operation.drive) return;
        const double over = std::abs(drive_v() - *out_.plateau_v);
        const bool beyond =
            edge_ == Edge::turn_on ? drive_v() > *out_.plateau_v : drive_v() < *out_.plateau_v;
        if (!beyond) return;
        const double charge = devices_.mean([&](int i) {
            return devices_.reverse_charge_c(i, false, bus_v_, out_.plateau_v) +
                   capacitance_of(input_.positions[static_cast<size_t>(i)].gate_drain) * bus_v_;
        });
        out_.voltage_transfer_s = transfer_time_s(charge, over);
    }

    void cascode_voltage_transfer() {
        note(
            "a cascode: the gate does not set dv/dt; the load current charges the JFET's gate-drain "
            "capacitance and "
            "the snubber, through the JFET's built-in gate resistor");
        if (*input_.operation.load_current_a <= 0)
            return note("without load current the voltage transfer has no time");
        const double reverse = devices_.mean(
            [&](int i) { return devices_.reverse_charge_c(i, true, bus_v_, gate_in_transfer_v()); });
        const double snubber = devices_.mean(
            [&](int i) { return capacitance_of(input_.positions[static_cast<size_t>(i)].snubber) * bus_v_; });
        const double lag = devices_.mean([&](int i) {
            return devices_.of(i).jfet_gate_resistance_ohm *
                   devices_.reverse_charge_c(i, true, bus_v_, gate_in_transfer_v()) / bus_v_;
        });
        out_.voltage_transfer_s = input_.n() * (reverse + snubber) / *input_.operation.load_current_a + lag;
    }

    void gate_power() {
        if (!input_.operation.drive) return;
        const double swing = input_.operation.drive->high_v - input_.operation.drive->low_v;
        out_.gate_charge_c = devices_.mean([&](int i) {
            const DieValues on = devices_.at(i, false, 0, input_.operation.drive->high_v);
            // A cascode's MOSFET lets its drain move by some volts alone.
            const double reverse =
                out_.cascode ? 0 : devices_.reverse_charge_c(i, false, bus_v_, out_.plateau_v);
            return (on.cgs_f + on.cgd_f + board_f(i)) * swing + reverse;
        });
        out_.resistor_power_w =
            0.5 * *out_.gate_charge_c * swing * frequency_hz_ * out_.gate.resistor_heat_share();
    }

    const Case& input_;
    SwitchedDevices devices_;
    Edge edge_;
    double frequency_hz_;
    double bus_v_ = 0, inner_v_ = 0;
    SwitchingEstimate out_;
};

}  // namespace

SwitchingEstimate estimate_switching(const Case& input, const std::vector<OperatingPoint>& points, Edge edge,
                                     double switching_frequency_hz) {
    return Estimator(input, points, edge, switching_frequency_hz).run();
}

}  // namespace ringquell
