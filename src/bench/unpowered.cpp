#include "devices/prepared_device.h"
#include "ringquell/ports.h"

namespace ringquell {

using namespace internal;

namespace {

/// A board on the bench is as warm as the room.
constexpr double room_degc = 25;

ParallelDevices prepared(Case cold) {
    for (Position& p : cold.positions) p.junction_temperature_degc.reset();
    try {
        return prepare_devices(cold, {}, room_degc);
    } catch (const InputError&) {
        return prepare_devices(cold, {}, cold.operation.junction_temperatures_degc.front());
    }
}

DieValues at_rest(const PreparedDie& die, bool normally_on) {
    DieValues out;
    out.output_resistance_ohm = die.output_resistance_ohm;
    die.capacitance.at(0, 0, out);
    out.region = DieRegion::off;
    if (!normally_on || die.channel.fixed() != nullptr) return out;
    out.output_conductance_s = die.channel.at(0, 0).output_conductance_s;
    if (out.output_conductance_s > 0) out.region = DieRegion::ohmic;
    return out;
}

DeviceValues at_rest(const PreparedDevice& device) {
    DeviceValues out;
    out.kind = device.kind;
    out.gate_resistance_ohm = device.gate_resistance_ohm;
    out.jfet_gate_resistance_ohm = device.jfet_gate_resistance_ohm;
    out.mosfet = at_rest(device.mosfet, device.kind == DeviceKind::jfet);
    if (device.jfet) out.jfet = at_rest(*device.jfet, true);
    return out;
}

double at_rest(const ComplementaryDevice& device) {
    return device.curve ? device.curve->points.front().second : device.capacitance_f;
}

}  // namespace

OperatingPoint unpowered_point(const Case& input) {
    OperatingPoint out;
    out.name = out.stage = "unpowered";
    out.edge = Edge::turn_off;
    out.complementary = Complementary::blocking;
    out.judged = false;
    const ParallelDevices devices = prepared(input);
    std::vector<DeviceValues> distinct;
    for (const PreparedDevice& d : devices.distinct) distinct.push_back(at_rest(d));
    for (const size_t k : devices.of_position) out.devices.push_back(distinct[k]);
    if (distinct.size() == 1) out.devices.resize(1);
    out.complementary_capacitance_f = at_rest(input.power_loop.complementary);
    bool legs = false;
    for (const Position& p : input.positions) legs = legs || p.leg.has_value();
    if (legs)
        for (const Position& p : input.positions)
            out.leg_capacitance_f.push_back(p.leg ? at_rest(p.leg->complementary) : 0);
    return out;
}

}  // namespace ringquell
