#include "ringquell/operating_path.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "gate_current.h"
#include "statics.h"

namespace ringquell {

const char* edge_name(Edge edge) {
    return edge == Edge::turn_on ? "turn_on" : "turn_off";
}

namespace {

/// A complementary device's capacitance while it blocks.
class ComplementaryCapacitance {
  public:
    ComplementaryCapacitance(const ComplementaryDevice& device, std::string key)
        : key_(std::move(key)), fixed_f_(device.capacitance_f) {
        if (!device.curve) return;
        place_ = device.curve->place;
        try {
            curve_.emplace(device.curve->points);
        } catch (const std::invalid_argument& error) {
            throw InputError(place_, key_, error.what());
        }
        last_v_ = device.curve->points.back().first;
    }
    bool is_curve() const { return curve_.has_value(); }
    const std::string& key() const { return key_; }
    const Place& place() const { return place_; }
    double last_v() const { return last_v_; }
    Domain domain(double v) const { return curve_ ? curve_->domain(v) : Domain::inside; }
    double at(double v) const { return curve_ ? curve_->capacitance_f(v) : fixed_f_; }

  private:
    std::string key_;
    Place place_;
    double fixed_f_;
    double last_v_ = 0;
    std::optional<CapacitanceInterpolant> curve_;
};

/// Warnings of which each key has one.
class Warnings {
  public:
    void add(const std::string& key, const std::string& text) {
        if (seen_.insert(key).second) list.push_back({key, text});
    }
    std::vector<Warning> list;

  private:
    std::set<std::string> seen_;
};

/// The points at one junction temperature.
class PathWalker {
  public:
    PathWalker(const Case& input, double temperature_degc, Warnings& warnings,
               std::vector<OperatingPoint>& points)
        : input_(input),
          operation_(input.operation),
          temperature_degc_(temperature_degc),
          warnings_(warnings),
          points_(points),
          power_loop_(input.power_loop.complementary, "power_loop.complementary.capacitance") {
        if (operation_.junction_temperatures_degc.size() > 1)
            suffix_ = fmt::format(" at {:.6g} degC", temperature_degc);
        bool any_leg = false;
        for (const Position& p : input.positions) any_leg = any_leg || p.leg.has_value();
        if (!any_leg) return;
        for (const Position& p : input.positions)
            legs_.emplace_back(p.leg ? p.leg->complementary : ComplementaryDevice{},
                               "leg.complementary.capacitance");
    }

    void run() {
        for (const Point& p : operation_.points) add_explicit(p);
        if (operation_.path) walk();
    }

  private:
    const ParallelDevices& own() {
        if (!own_) own_ = prepare_devices(input_, {}, temperature_degc_);
        return *own_;
    }

    StaticsQuery query(const std::string& stage, int number, double vds, double current) const {
        return {vds, current, fmt::format("{} {}{}", stage, number, suffix_), operation_.place};
    }

    // ---- what a point needs besides its bias ----

    double complementary_capacitance(const ComplementaryCapacitance& device, const OperatingPoint& point) {
        if (!device.is_curve() || point.complementary == Complementary::conducting) return device.at(0);
        if (!operation_.bus_voltage_v)
            throw InputError(
                device.place(), "operation.bus_voltage",
                fmt::format(
                    "missing, but `{}` is a curve against the complementary device's own voltage, bus "
                    "voltage - vds; expected the DC-link voltage",
                    device.key()));
        const double v = *operation_.bus_voltage_v - point.vds_v;
        if (device.domain(v) != Domain::inside)
            warnings_.add(device.key(),
                          fmt::format("at `{}` the complementary device is at {:.6g} V, outside its curve, "
                                      "which ends at {:.6g} V; the end of the curve holds there",
                                      point.name, v, device.last_v()));
        return device.at(v);
    }

    void set_die(DieValues& out, const PreparedDie& die, double vds, const OperatingPoint& point) {
        out.output_resistance_ohm = die.output_resistance_ohm;
        if (die.capacitance.at(vds, out) != Domain::inside)
            warnings_.add(
                die.key + ".capacitance.table",
                fmt::format(
                    "at `{}` the die is at {:.6g} V, outside the table's {:.6g} V to {:.6g} V; the end "
                    "of the table holds there",
                    point.name, vds, die.capacitance.first_v(), die.capacitance.last_v()));
    }

    static void set_channel(DieValues& out, const PreparedChannel& channel, double vgs, double vds) {
        const ChannelState state = channel.at(vgs, vds);
        out.transconductance_s = state.transconductance_s;
        out.output_conductance_s = state.output_conductance_s;
        out.region = channel.region(vgs, vds);
    }

    /// `bias` empty: fixed values.
    DeviceValues values(const PreparedDevice& d, const DeviceBias* bias, const OperatingPoint& point) {
        DeviceValues v;
        v.gate_resistance_ohm = d.gate_resistance_ohm;
        v.jfet_gate_resistance_ohm = d.jfet_gate_resistance_ohm;
        if (bias == nullptr) return fixed_values(d, v, point);
        v.solved = true;
        v.current_a = bias->current_a;
        v.gate_voltage_v = bias->gate_voltage_v;
        v.inner_voltage_v = bias->inner_voltage_v;
        v.jfet_gate_voltage_v = bias->jfet_gate_voltage_v;
        const double mosfet_vds = d.jfet ? bias->inner_voltage_v : point.vds_v;
        set_channel(v.mosfet, d.mosfet.channel, bias->gate_voltage_v, mosfet_vds);
        set_die(v.mosfet, d.mosfet, mosfet_vds, point);
        if (!d.jfet) return v;
        const double jfet_vds = point.vds_v - bias->inner_voltage_v;
        set_channel(v.jfet, d.jfet->channel, bias->jfet_gate_voltage_v, jfet_vds);
        set_die(v.jfet, *d.jfet, jfet_vds, point);
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

    DeviceValues fixed_values(const PreparedDevice& d, DeviceValues v, const OperatingPoint& point) {
        const auto set = [&](DieValues& out, const PreparedDie& die) {
            out.transconductance_s = die.channel.fixed()->transconductance_s;
            out.output_conductance_s = die.channel.fixed()->output_conductance_s;
            if (d.jfet && die.capacitance.is_table())
                throw InputError(die.place, die.key + ".capacitance",
                                 "found a table, but a cascode's fixed channels do not tell the voltage of "
                                 "the die; expected "
                                 "`cgs`, `cgd` and `cds`, or formulas or curves for both channels");
            set_die(out, die, point.vds_v, point);
        };
        set(v.mosfet, d.mosfet);
        if (d.jfet) set(v.jfet, *d.jfet);
        return v;
    }

    // ---- points ----

    void add(OperatingPoint point, const ParallelDevices& devices, const std::vector<DeviceBias>& bias,
             std::optional<double> gate_current_a = {}) {
        point.name += suffix_;
        point.junction_temperature_degc = temperature_degc_;
        std::vector<DeviceValues> distinct;
        for (size_t k = 0; k < devices.distinct.size(); ++k)
            distinct.push_back(values(devices.distinct[k], bias.empty() ? nullptr : &bias[k], point));
        for (const size_t k : devices.of_position) point.devices.push_back(distinct[k]);
        point.complementary_capacitance_f = complementary_capacitance(power_loop_, point);
        for (const ComplementaryCapacitance& leg : legs_)
            point.leg_capacitance_f.push_back(complementary_capacitance(leg, point));
        if (gate_current_a) {
            point.gate_current_a = *gate_current_a;
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
        if (!bias.empty() && operation_.drive &&
            bias.front().gate_voltage_v > operation_.drive->high_v * (1 + 1e-9))
            warnings_.add("operation.drive",
                          fmt::format("at `{}` the devices need {:.4g} V of gate voltage, above "
                                      "`drive.high`, {:.4g} V: the drive never brings them there",
                                      point.name, bias.front().gate_voltage_v, operation_.drive->high_v));
        points_.push_back(std::move(point));
    }

    void add_explicit(const Point& p) {
        OperatingPoint point;
        point.name = p.name;
        point.stage = p.name + suffix_;
        point.edge = p.edge;
        point.vds_v = p.vds_v;
        point.current_a = p.current_a;
        point.complementary = p.complementary;
        std::optional<ParallelDevices> of_point;
        if (!p.devices.empty()) of_point = prepare_devices(input_, p.devices, temperature_degc_);
        const ParallelDevices& devices = of_point ? *of_point : own();
        std::vector<DeviceBias> bias;
        if (devices.has_statics())
            bias = static_bias(devices, {p.vds_v, p.current_a, p.name + suffix_, p.place});
        add(std::move(point), devices, bias, p.gate_current_a);
    }

    OperatingPoint walked(const std::string& stage, int number, Edge edge, double vds, double current) const {
        OperatingPoint out;
        out.name = fmt::format("{} {}", stage, number);
        out.stage = stage;
        out.edge = edge;
        out.vds_v = vds;
        out.current_a = current;
        return out;
    }

    void add_static(const std::string& stage, int number, Edge edge, double vds, double current,
                    Complementary complementary, bool judged = true) {
        OperatingPoint point = walked(stage, number, edge, vds, current);
        point.complementary = complementary;
        point.judged = judged;
        static const std::vector<DeviceBias> none;
        add(std::move(point), own(),
            own().has_statics() ? known_bias(query(stage, number, vds, current)) : none);
    }

    /// Both edges pass through the same voltages and currents.
    const std::vector<DeviceBias>& known_bias(const StaticsQuery& query) {
        const auto known = std::find_if(biases_.begin(), biases_.end(), [&](const auto& b) {
            return b.first.first == query.vds_v && b.first.second == query.current_a;
        });
        if (known != biases_.end()) return known->second;
        return biases_.emplace_back(std::pair{query.vds_v, query.current_a}, static_bias(own(), query))
            .second;
    }

    // ---- the default walk ----

    /// Where the voltage transfer begins; the gate voltage that the curves know is in `gate_high_v_`.
    double lowest_voltage(const std::string& stage) {
        if (!own().has_statics()) return fixed_on_state_voltage();
        gate_high_v_ = known_gate_voltage(own(), operation_.drive->high_v);
        if (gate_high_v_ < operation_.drive->high_v)
            warnings_.add("operation.drive.high", fmt::format("the transfer curve ends at {:.4g} V, below "
                                                              "`drive.high`, {:.4g} V; the devices are taken "
                                                              "as fully on at its end",
                                                              gate_high_v_, operation_.drive->high_v));
        return on_state_voltage(own(), gate_high_v_, query(stage, 1, bus_v_, load_a_));
    }

    double fixed_on_state_voltage() {
        double conductance = 0;
        for (size_t k = 0; k < own().distinct.size(); ++k)
            conductance += own().count[k] * own().distinct[k].mosfet.channel.fixed()->output_conductance_s;
        const bool below = conductance > 0 && load_a_ / conductance < bus_v_;
        constexpr double otherwise =
            0.01;  // share of the bus voltage; fixed values are the same at any voltage
        const double vds = below ? load_a_ / conductance : otherwise * bus_v_;
        warnings_.add(
            "operation.path",
            fmt::format(
                "a fixed channel has no curve: the same device values hold at every point of the walk, and "
                "its "
                "lowest voltage, {:.3g} V, is {}",
                vds,
                below
                    ? "the load current over the output conductance"
                    : "1 % of the bus voltage (the load current over the output conductance exceeds the bus "
                      "voltage)"));
        return vds;
    }

    /// From low to the bus voltage in geometric steps, k from 0.
    double geometric(double low, int k) const {
        if (k == operation_.path->steps - 1) return bus_v_;
        return low * std::pow(bus_v_ / low, static_cast<double>(k) / (operation_.path->steps - 1));
    }

    void walk() {
        if (!operation_.bus_voltage_v)
            throw InputError(operation_.place, "operation.bus_voltage",
                             "missing; expected the DC-link voltage, such as `800 V`");
        if (!operation_.load_current_a)
            throw InputError(operation_.place, "operation.load_current",
                             "missing; expected the load current of the whole switch, such as `200 A`");
        if (own().has_statics() && !operation_.drive)
            throw InputError(operation_.place, "operation.drive",
                             "missing; expected the drive, such as `{high: 18 V, low: -4 V}`");
        bus_v_ = *operation_.bus_voltage_v;
        load_a_ = *operation_.load_current_a;
        if (input_.positions.front().device.kind == DeviceKind::cascode)
            walk_cascode();
        else
            walk_mosfet();
    }

    void walk_mosfet() {
        const int steps = operation_.path->steps;
        double low = 0;
        for (const Edge edge : {Edge::turn_on, Edge::turn_off}) {
            const std::string name = edge_name(edge);
            for (int k = 1; k <= steps; ++k)
                add_static(name + " current", k, edge, bus_v_, load_a_ * k / steps,
                           Complementary::conducting);
            if (low == 0) low = lowest_voltage(name + " voltage");
            for (int k = 0; k < steps; ++k)
                add_static(name + " voltage", k + 1, edge, geometric(low, k), load_a_,
                           Complementary::blocking);
            if (!operation_.path->peak_current_a) continue;
            for (int k = 0; k < steps; ++k) {
                const double share = steps == 1 ? 1 : static_cast<double>(k) / (steps - 1);
                add_static(name + " peak", k + 1, edge, bus_v_,
                           std::lerp(load_a_, *operation_.path->peak_current_a, share),
                           Complementary::conducting);
            }
        }
    }

    void walk_cascode() {
        const bool solved = own().has_statics();
        const double low = lowest_voltage(solved ? "turn_on voltage" : "turn_off onset");
        std::optional<double> onset = low;
        if (solved) onset = saturation_onset(own(), false, low, query("turn_off onset", 1, bus_v_, load_a_));
        if (onset)
            add_static("turn_off onset", 1, Edge::turn_off, *onset, load_a_, Complementary::blocking);
        else
            warnings_.add("operation.path",
                          "the MOSFET never saturates at the load current, because the JFET pinches off "
                          "first: there is no `turn_off onset`, and no plateau");
        for (const Edge edge : {Edge::turn_on, Edge::turn_off}) {
            const std::string stage = std::string(edge_name(edge)) + " voltage";
            for (int k = 0; k < operation_.path->steps; ++k) {
                const double vds = geometric(low, k);
                std::vector<DeviceBias> bias;
                if (solved) bias = transfer_bias(own(), gate_high_v_, query(stage, k + 1, vds, load_a_));
                add(walked(stage, k + 1, edge, vds, load_a_), own(), bias);
            }
        }
        if (!solved || !onset) return;
        const auto plateau =
            saturation_onset(own(), true, *onset, query("turn_on plateau", 1, bus_v_, load_a_));
        if (!plateau) {
            warnings_.add("operation.path",
                          "the dice are never both saturated at the load current: there is no plateau");
            return;
        }
        for (const Edge edge : {Edge::turn_on, Edge::turn_off})
            for (int k = 0; k < operation_.path->steps; ++k)
                add_static(std::string(edge_name(edge)) + " plateau", k + 1, edge, geometric(*plateau, k),
                           load_a_, Complementary::blocking, operation_.path->plateau);
    }

    const Case& input_;
    const Operation& operation_;
    double temperature_degc_;
    Warnings& warnings_;
    std::vector<OperatingPoint>& points_;
    ComplementaryCapacitance power_loop_;
    std::vector<ComplementaryCapacitance> legs_;
    std::string suffix_;
    std::optional<ParallelDevices> own_;
    std::vector<std::pair<std::pair<double, double>, std::vector<DeviceBias>>> biases_;  // (V, A), of own_
    double bus_v_ = 0, load_a_ = 0, gate_high_v_ = 0;
};

}  // namespace

bool same_network(const OperatingPoint& a, const OperatingPoint& b) {
    return a.edge == b.edge && a.complementary == b.complementary && a.devices == b.devices &&
           a.complementary_capacitance_f == b.complementary_capacitance_f &&
           a.leg_capacitance_f == b.leg_capacitance_f && a.gate_current_a == b.gate_current_a;
}

OperatingPath operating_path(const Case& input) {
    OperatingPath out;
    Warnings warnings;
    for (const double temperature_degc : input.operation.junction_temperatures_degc)
        PathWalker(input, temperature_degc, warnings, out.points).run();
    out.warnings = std::move(warnings.list);
    return out;
}

}  // namespace ringquell
