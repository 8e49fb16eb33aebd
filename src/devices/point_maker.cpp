#include "devices/point_maker.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "devices/gate_current.h"

namespace ringquell::internal {

PointMaker::PointMaker(const Case& input, double temperature_degc, std::string variant, Warnings& warnings)
    : input_(input),
      temperature_degc_(temperature_degc),
      variant_(std::move(variant)),
      warnings_(warnings),
      power_loop_(input.power_loop.complementary, "power_loop.complementary.capacitance") {
    const auto has_leg = [](const Position& p) { return p.leg.has_value(); };
    if (std::none_of(input.positions.begin(), input.positions.end(), has_leg)) return;
    for (const Position& p : input.positions)
        legs_.emplace_back(p.leg ? p.leg->complementary : ComplementaryDevice{},
                           "leg.complementary.capacitance");
}

double PointMaker::complementary_capacitance(const ComplementaryCapacitance& device,
                                             const OperatingPoint& point) {
    if (!device.is_curve() || point.complementary == Complementary::conducting) return device.at(0);
    if (!input_.operation.bus_voltage_v)
        throw InputError(
            device.place(), "operation.bus_voltage",
            fmt::format("missing, but `{}` is a curve against the complementary device's own voltage, bus "
                        "voltage - vds; expected the DC-link voltage",
                        device.key()));
    const double v = *input_.operation.bus_voltage_v - point.vds_v;
    if (device.domain(v) != Domain::inside)
        warnings_.add(device.key(),
                      fmt::format("at `{}` the complementary device is at {:.6g} V, outside its curve, "
                                  "which ends at {:.6g} V; the end of the curve holds there",
                                  point.name, v, device.last_v()));
    return device.at(v);
}

void PointMaker::set_die(DieValues& out, const PreparedDie& die, double vds, std::optional<double> vgs,
                         OperatingPoint& point) {
    out.output_resistance_ohm = die.output_resistance_ohm;
    const double vdg = vds - vgs.value_or(die.capacitance.gate_voltage_v());
    const PreparedCapacitance::Domains domains = die.capacitance.at(vds, vdg, out);
    if (domains.own != Domain::inside)
        warnings_.add(
            die.key + ".capacitance.table",
            fmt::format("at `{}` the die is at {:.6g} V, outside the table's {:.6g} V to {:.6g} V; the end "
                        "of the table holds there",
                        point.name, vds, die.capacitance.first_v(), die.capacitance.last_v()));
    if (domains.reverse == Domain::above)
        warnings_.add(
            die.key + ".capacitance.table (cgd)",
            fmt::format(
                "at `{}` drain and gate of the die are {:.6g} V apart, above what the table holds for "
                "cgd; its end holds there",
                point.name, vdg));
    if (domains.reverse == Domain::below) point.cgd_below_table = true;
}

namespace {

void set_channel(DieValues& out, const PreparedChannel& channel, double vgs, double vds, bool off) {
    if (off) {
        out.region = DieRegion::off;
        return;
    }
    const ChannelState state = channel.at(vgs, vds);
    out.transconductance_s = state.transconductance_s;
    out.output_conductance_s = state.output_conductance_s;
    out.region = channel.region(vgs, vds);
}

}  // namespace

DeviceValues PointMaker::values(const PreparedDevice& d, const DeviceBias* bias, OperatingPoint& point) {
    DeviceValues v;
    v.kind = d.kind;
    v.gate_resistance_ohm = d.gate_resistance_ohm;
    v.jfet_gate_resistance_ohm = d.jfet_gate_resistance_ohm;
    if (bias == nullptr) return fixed_values(d, v, point);
    v.solved = true;
    v.current_a = bias->current_a;
    v.gate_voltage_v = bias->gate_voltage_v;
    v.inner_voltage_v = bias->inner_voltage_v;
    v.jfet_gate_voltage_v = bias->jfet_gate_voltage_v;
    const bool off = point.current_a == 0;
    const double mosfet_vds = d.jfet ? bias->inner_voltage_v : point.vds_v;
    set_channel(v.mosfet, d.mosfet.channel, bias->gate_voltage_v, mosfet_vds, off);
    set_die(v.mosfet, d.mosfet, mosfet_vds, bias->gate_voltage_v, point);
    if (!d.jfet) return v;
    const double jfet_vds = point.vds_v - bias->inner_voltage_v;
    set_channel(v.jfet, d.jfet->channel, bias->jfet_gate_voltage_v, jfet_vds, off);
    set_die(v.jfet, *d.jfet, jfet_vds, bias->jfet_gate_voltage_v, point);
    if (bias->avalanche) {
        // The clamp's own slope is not given: steep enough to move the inner node by 1 % of what it would
        // move without.
        constexpr double steepness = 100;
        v.mosfet.region = DieRegion::avalanche;
        v.mosfet.output_conductance_s +=
            steepness *
            (v.mosfet.output_conductance_s + v.jfet.transconductance_s + v.jfet.output_conductance_s);
    }
    return v;
}

DeviceValues PointMaker::fixed_values(const PreparedDevice& d, DeviceValues v, OperatingPoint& point) {
    const auto set = [&](DieValues& out, const PreparedDie& die) {
        out.transconductance_s = die.channel.fixed()->transconductance_s;
        out.output_conductance_s = die.channel.fixed()->output_conductance_s;
        if (d.jfet && die.capacitance.is_table())
            throw InputError(die.place, die.key + ".capacitance",
                             "found a table, but a cascode's fixed channels do not tell the voltage of "
                             "the die; expected "
                             "`cgs`, `cgd` and `cds`, or formulas or curves for both channels");
        set_die(out, die, point.vds_v, std::nullopt, point);
    };
    set(v.mosfet, d.mosfet);
    if (d.jfet) set(v.jfet, *d.jfet);
    return v;
}

void PointMaker::set_gate_current(OperatingPoint& point, std::optional<double> given_a) {
    if (given_a) {
        point.gate_current_a = *given_a;
    } else if (const auto estimate = estimated_gate_current_a(input_, point)) {
        point.gate_current_a = *estimate;
        point.gate_current_estimated = true;
    } else if (has_saturating_bead(input_)) {
        warnings_.add(
            "bead.saturation",
            fmt::format(
                "at `{}` the gate current is not known (it is estimated from `operation.drive`, the gate "
                "voltage of a channel given by a formula or curves, and the resistances) and counts as "
                "0 A; give `gate_current` at the point",
                point.name));
    }
}

OperatingPoint PointMaker::make(OperatingPoint point, const ParallelDevices& devices,
                                const std::vector<DeviceBias>& bias, std::optional<double> gate_current_a) {
    point.name += variant_;
    point.variant = variant_;
    point.junction_temperature_degc = temperature_degc_;
    if (has_own_temperatures(input_))
        for (const Position& p : input_.positions)
            point.position_temperatures_degc.push_back(
                p.junction_temperature_degc.value_or(temperature_degc_));
    std::vector<DeviceValues> distinct;
    for (size_t k = 0; k < devices.distinct.size(); ++k)
        distinct.push_back(values(devices.distinct[k], bias.empty() ? nullptr : &bias[k], point));
    for (const size_t k : devices.of_position) point.devices.push_back(distinct[k]);
    point.complementary_capacitance_f = complementary_capacitance(power_loop_, point);
    for (const ComplementaryCapacitance& leg : legs_)
        point.leg_capacitance_f.push_back(complementary_capacitance(leg, point));
    set_gate_current(point, gate_current_a);
    const auto& drive = input_.operation.drive;
    constexpr double rounding = 1e-9;  // of the drive's swing: `high` may be 0 V
    if (!bias.empty() && drive &&
        bias.front().gate_voltage_v > drive->high_v + rounding * std::abs(drive->high_v - drive->low_v))
        warnings_.add("operation.drive",
                      fmt::format("at `{}` the devices need {:.4g} V of gate voltage, above "
                                  "`drive.high`, {:.4g} V: the drive never brings them there",
                                  point.name, bias.front().gate_voltage_v, drive->high_v));
    return point;
}

}  // namespace ringquell::internal
