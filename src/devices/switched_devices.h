// Private to the estimates: what they need of the devices, as means over the positions.
#pragma once

#include <algorithm>
#include <limits>
#include <optional>
#include <vector>

#include "devices/statics.h"
#include "numerics/curve.h"
#include "ringquell/operating_path.h"

namespace ringquell::internal {

/// ∫ f dv from 0 to `to_v`: trapezoids in steps that grow with the voltage.
template <class F>
double integral(F&& f, double to_v) {
    constexpr int steps = 400;
    double sum = 0, before_v = 0, before = f(0.0);
    for (int k = 1; k <= steps; ++k) {
        const double share = static_cast<double>(k) / steps;
        const double v = to_v * share * share, here = f(v);
        sum += 0.5 * (here + before) * (v - before_v);
        before_v = v;
        before = here;
    }
    return sum;
}

/// ∫ C dv of a complementary device from 0 to `to_v`; what its capacitance is where a point overrides
/// nothing.
inline double charge_c(const ComplementaryDevice& device, double to_v) {
    if (!device.curve) return device.capacitance_f * to_v;
    const CapacitanceInterpolant curve(device.curve->points);
    return integral([&](double v) { return curve.capacitance_f(v); }, to_v);
}

/// The devices of a case at its first junction temperature.
class SwitchedDevices {
  public:
    SwitchedDevices(const Case& input, const std::vector<OperatingPoint>& points, Edge edge)
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

    /// A die's capacitances at its own voltage and its gate's (absent: the gate is where the curves were
    /// taken); a point's override where they do not depend on it.
    DieValues at(int position, bool jfet, double vds, std::optional<double> vgs) const {
        const PreparedDie& die = jfet ? *of(position).jfet : of(position).mosfet;
        DieValues out;
        if (!die.capacitance.is_table() && highest_ != nullptr)
            out = jfet ? highest_->device(position).jfet : highest_->device(position).mosfet;
        else
            die.capacitance.at(vds, vds - vgs.value_or(die.capacitance.gate_voltage_v()), out);
        return out;
    }

    /// ∫ C_gd dv while the die goes from 0 V to `to_v` with its gate held.
    double reverse_charge_c(int position, bool jfet, double to_v, std::optional<double> vgs) const {
        return integral([&](double v) { return at(position, jfet, v, vgs).cgd_f; }, to_v);
    }
    /// ∫ (C_ds + C_gd) dv, of a cascode's JFET.
    double output_charge_c(int position, double to_v, std::optional<double> vgs) const {
        return integral(
            [&](double v) {
                const DieValues die = at(position, cascode(), v, vgs);
                return die.cds_f + die.cgd_f;
            },
            to_v);
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

inline double capacitance_of(const std::optional<SeriesRlc>& part) {
    return part ? part->capacitance_f : 0;
}

/// The lowest of all devices; empty with fixed values.
inline std::optional<double> threshold_of(const ParallelDevices& devices) {
    if (!devices.has_statics()) return std::nullopt;
    double least = std::numeric_limits<double>::infinity();
    for (const PreparedDevice& d : devices.distinct) least = std::min(least, d.mosfet.channel.threshold_v());
    return least;
}

}  // namespace ringquell::internal
