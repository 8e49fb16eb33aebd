#include "ringquell/operating_path.h"

#include <fmt/format.h>

#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <functional>

namespace ringquell {

namespace {

const char* edge_name(Edge edge) { return edge == Edge::turn_on ? "turn_on" : "turn_off"; }

double at_temperature(const DieResistance& r, double temperature_degc) {
    return r.value_ohm * (1 + r.per_kelvin * (temperature_degc - r.at_degc));
}

/// Where f, non-decreasing, crosses zero above `low`: brackets upwards from low + step, then TOMS 748 to full precision. NaN where
/// f does not become positive within `limit`.
double rising_root(const std::function<double(double)>& f, double low, double step, double limit) {
    double high = low + step;
    while (f(high) < 0) {
        low = high;
        step *= 2;
        high = low + step;
        if (high > limit) return std::nan("");
    }
    if (f(low) >= 0) return low;
    std::uintmax_t iterations = 200;
    const auto [a, b] = boost::math::tools::toms748_solve(f, low, high, boost::math::tools::eps_tolerance<double>(52), iterations);
    return 0.5 * (a + b);
}

/// The devices at a point before their currents are known: the positions' own, or the point's.
std::vector<const Device*> devices_at(const Case& input, const std::vector<Device>& own) {
    std::vector<const Device*> out;
    if (own.size() == 1) {
        out.push_back(&own[0]);
        return out;
    }
    bool alike = true;
    for (size_t i = 0; i < input.positions.size(); ++i) {
        out.push_back(own.empty() ? &input.positions[i].device : &own[i]);
        alike = alike && *out.back() == *out.front();
    }
    if (alike) out.resize(1);
    return out;
}

void set_capacitance(DieValues& v, const Die& die, const std::string& where) {
    v.output_resistance_ohm = die.output_resistance_ohm;
    const auto* fixed = std::get_if<FixedCapacitance>(&die.capacitance);
    if (fixed == nullptr) throw InputError(die.place, where + ".capacitance", "a table of capacitances is not read yet; expected fixed values `{cgs, cgd, cds}`");
    v.cgs_f = fixed->cgs_f;
    v.cgd_f = fixed->cgd_f;
    v.cds_f = fixed->cds_f;
}

const FormulaChannel* formula(const Device& device) { return std::get_if<FormulaChannel>(&device.mosfet.channel); }

/// Gate voltage at which formula devices carry `current_a` together at `vds_v`.
double shared_gate_voltage(const std::vector<const Device*>& devices, double multiplicity, double current_a, double vds_v) {
    double lowest = formula(*devices[0])->threshold_v;
    for (const Device* d : devices) lowest = std::min(lowest, formula(*d)->threshold_v);
    const auto excess = [&](double vgs) {
        double sum = 0;
        for (const Device* d : devices) sum += channel_state(*formula(*d), vgs, vds_v).current_a;
        return sum * multiplicity - current_a;
    };
    constexpr double limit_v = 1e6;
    return rising_root(excess, lowest, 1.0, limit_v);
}

class PathWalker {
  public:
    explicit PathWalker(const Case& input) : input_(input) {}

    OperatingPath run() {
        for (const Point& point : input_.operation.points) add_explicit(point);
        if (input_.operation.path) walk();
        return std::move(path_);
    }

  private:
    double multiplicity(size_t devices) const { return devices == 1 ? input_.n() : 1; }

    OperatingPoint base(std::string name, std::string stage, Edge edge, double vds, double current, Complementary complementary) const {
        OperatingPoint out;
        out.name = std::move(name);
        out.stage = std::move(stage);
        out.edge = edge;
        out.vds_v = vds;
        out.current_a = current;
        out.complementary = complementary;
        out.junction_temperature_degc = input_.operation.junction_temperatures_degc.front();
        out.complementary_capacitance_f = input_.power_loop.complementary.capacitance_f;
        return out;
    }

    void solve(OperatingPoint& point, const std::vector<Device>& own, const Place& place) const {
        const auto devices = devices_at(input_, own);
        const bool formula_form = devices[0]->kind == DeviceKind::mosfet && formula(*devices[0]) != nullptr;
        double vgs = 0;
        if (formula_form) {
            vgs = shared_gate_voltage(devices, multiplicity(devices.size()), point.current_a, point.vds_v);
            if (std::isnan(vgs))
                throw InputError(place, point.name,
                                 fmt::format("the channels cannot carry {:.6g} A at {:.6g} V; expected a point that the channel's formula reaches", point.current_a, point.vds_v));
        }
        for (const Device* d : devices) {
            DeviceValues v;
            v.gate_resistance_ohm = at_temperature(d->gate_resistance, point.junction_temperature_degc);
            const auto set_fixed = [&](DieValues& die_values, const Die& die, const char* where) {
                const auto* fixed = std::get_if<FixedChannel>(&die.channel);
                if (fixed == nullptr)
                    throw InputError(die.place, std::string(where) + ".channel",
                                     d->kind == DeviceKind::cascode
                                         ? "a cascode's dice are not solved from formulas or curves yet; expected `{transconductance, output_conductance}`"
                                         : "a transfer curve is not read yet; expected fixed values or a formula");
                die_values.transconductance_s = fixed->transconductance_s;
                die_values.output_conductance_s = fixed->output_conductance_s;
            };
            if (d->kind == DeviceKind::cascode) {
                set_fixed(v.mosfet, d->mosfet, "device.mosfet");
                set_fixed(v.jfet, d->jfet, "device.jfet");
                set_capacitance(v.mosfet, d->mosfet, "device.mosfet");
                set_capacitance(v.jfet, d->jfet, "device.jfet");
                v.jfet_gate_resistance_ohm = at_temperature(d->jfet_gate_resistance, point.junction_temperature_degc);
            } else {
                if (formula_form) {
                    const ChannelState s = channel_state(*formula(*d), vgs, point.vds_v);
                    v.mosfet.transconductance_s = s.transconductance_s;
                    v.mosfet.output_conductance_s = s.output_conductance_s;
                    v.solved = true;
                    v.current_a = s.current_a;
                    v.gate_voltage_v = vgs;
                } else {
                    set_fixed(v.mosfet, d->mosfet, "device");
                }
                set_capacitance(v.mosfet, d->mosfet, "device");
            }
            point.devices.push_back(v);
        }
    }

    void add_explicit(const Point& p) {
        OperatingPoint point = base(p.name, p.name, p.edge, p.vds_v, p.current_a, p.complementary);
        solve(point, p.devices, p.place);
        path_.points.push_back(std::move(point));
    }

    void add(const std::string& stage, int number, Edge edge, double vds, double current, Complementary complementary) {
        OperatingPoint point = base(fmt::format("{} {}", stage, number), stage, edge, vds, current, complementary);
        solve(point, {}, input_.operation.place);
        path_.points.push_back(std::move(point));
    }

    /// The drain-source voltage at `drive.high` and the full load current.
    double on_state_voltage(double bus_voltage, double load_current) {
        const auto devices = devices_at(input_, {});
        const double count = multiplicity(devices.size());
        if (devices[0]->kind == DeviceKind::mosfet && formula(*devices[0]) != nullptr) {
            const double high = input_.operation.drive->high_v;
            const auto excess = [&](double vds) {
                double sum = 0;
                for (const Device* d : devices) sum += channel_state(*formula(*d), high, vds).current_a;
                return sum * count - load_current;
            };
            const double vds = rising_root(excess, 0, 1e-3, bus_voltage);
            if (std::isnan(vds))
                throw InputError(input_.operation.place, "operation.load_current",
                                 fmt::format("at the driver's {:.6g} V the channels do not carry {:.6g} A below the bus voltage; expected a higher `drive.high` or a smaller current", high, load_current));
            return vds;
        }
        double conductance = 0;
        for (const Device* d : devices)
            if (const auto* fixed = std::get_if<FixedChannel>(&d->mosfet.channel)) conductance += fixed->output_conductance_s * count;
        const double vds = conductance > 0 ? load_current / conductance : bus_voltage;
        const bool below = vds < bus_voltage;
        constexpr double otherwise = 0.01;  // share of the bus voltage; fixed values are the same at any voltage
        path_.warnings.push_back({"operation.path", fmt::format("a fixed channel has no curve: the same device values hold at every point of the walk, and its lowest voltage, {:.3g} V, is {}",
                                                                below ? vds : otherwise * bus_voltage,
                                                                below ? "the load current over the output conductance" : "1 % of the bus voltage (the load current over the output conductance exceeds the bus voltage)")});
        return below ? vds : otherwise * bus_voltage;
    }

    void walk() {
        const Operation& operation = input_.operation;
        if (!operation.bus_voltage_v) throw InputError(operation.place, "operation.bus_voltage", "missing; expected the DC-link voltage, such as `800 V`");
        if (!operation.load_current_a) throw InputError(operation.place, "operation.load_current", "missing; expected the load current of the whole switch, such as `200 A`");
        const double bus = *operation.bus_voltage_v, load = *operation.load_current_a;
        const int steps = operation.path->steps;
        const auto share = [steps](int k) { return steps == 1 ? 1.0 : static_cast<double>(k) / (steps - 1); };
        const bool cascode = input_.positions[0].device.kind == DeviceKind::cascode;
        const double on_voltage = on_state_voltage(bus, load);
        if (cascode) add("turn_off onset", 1, Edge::turn_off, on_voltage, load, Complementary::blocking);
        for (Edge edge : {Edge::turn_on, Edge::turn_off}) {
            const std::string name = edge_name(edge);
            if (!cascode)
                for (int k = 1; k <= steps; ++k) add(name + " current", k, edge, bus, load * k / steps, Complementary::conducting);
            for (int k = 0; k < steps; ++k)
                add(name + " voltage", k + 1, edge, on_voltage * std::pow(bus / on_voltage, share(k)), load, Complementary::blocking);
            if (!cascode && operation.path->peak_current_a)
                for (int k = 0; k < steps; ++k)
                    add(name + " peak", k + 1, edge, bus, load + (*operation.path->peak_current_a - load) * share(k), Complementary::conducting);
        }
    }

    const Case& input_;
    OperatingPath path_;
};

}  // namespace

bool same_network(const OperatingPoint& a, const OperatingPoint& b) {
    return a.edge == b.edge && a.complementary == b.complementary && a.devices == b.devices &&
           a.complementary_capacitance_f == b.complementary_capacitance_f && a.gate_current_a == b.gate_current_a;
}

OperatingPath operating_path(const Case& input) { return PathWalker(input).run(); }

}  // namespace ringquell
