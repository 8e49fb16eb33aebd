#include "reader/warnings.h"

#include <fmt/format.h>

#include <cmath>
#include <functional>

#include "reader/field_reader.h"
#include "reader/idle_keys.h"
#include "ringquell/numbers.h"

namespace ringquell::internal {
namespace {

/// What boards have, from practice; outside `lowest`..`highest` a warning says so and cites
/// `usual_low`..`usual_high`.
struct Plausible {
    const char* key;
    const char* what;
    double lowest, usual_low, usual_high, highest;
};

constexpr Plausible plausible[] = {
    {"gate_path.inductance", "a gate path", 1e-9, 2e-9, 100e-9, 200e-9},
    {"kelvin_path.inductance", "a Kelvin path", 0.5e-9, 1e-9, 100e-9, 200e-9},
    {"drain_path.inductance", "a drain path", 0.1e-9, 0.5e-9, 100e-9, 1e-6},
    {"source_path.inductance", "a source path", 0.05e-9, 0.2e-9, 100e-9, 1e-6},
    {"device.package.gate", "a gate lead", 0.1e-9, 0.5e-9, 20e-9, 50e-9},
    {"device.package.drain", "a drain lead", 0.05e-9, 0.2e-9, 15e-9, 50e-9},
    {"device.package.source", "a source lead", 0.05e-9, 0.2e-9, 15e-9, 50e-9},
    {"device.package.kelvin", "a Kelvin lead", 0.1e-9, 0.5e-9, 20e-9, 50e-9},
    {"device.package.gate_resistance", "a gate lead", 1e-6, 0.1e-3, 100e-3, 0.5},
    {"device.package.drain_resistance", "a drain lead", 1e-6, 0.1e-3, 100e-3, 0.5},
    {"device.package.source_resistance", "a source lead", 1e-6, 0.1e-3, 100e-3, 0.5},
    {"device.package.kelvin_resistance", "a Kelvin lead", 1e-6, 0.1e-3, 100e-3, 0.5},
    {"device.bonds.mid", "a bond between the dice", 0.02e-9, 0.1e-9, 3e-9, 10e-9},
    {"device.bonds.jfet_gate", "a bond to the JFET's gate", 0.02e-9, 0.1e-9, 5e-9, 20e-9},
    {"device.gate_resistance", "a chip's gate", 0.05, 0.2, 20, 100},
    {"device.capacitance.cgs", "cgs", 1e-12, 10e-12, 50e-9, 100e-9},
    {"device.capacitance.cgd", "cgd", 0.1e-12, 1e-12, 5e-9, 20e-9},
    {"device.capacitance.cds", "cds", 1e-12, 10e-12, 20e-9, 100e-9},
    {"device.mosfet.capacitance.cgs", "cgs", 1e-12, 10e-12, 50e-9, 100e-9},
    {"device.jfet.capacitance.cgs", "cgs", 1e-12, 10e-12, 50e-9, 100e-9},
    {"device.channel.gain", "a channel at 1 V above threshold", 20e-3, 0.1, 200, 2e3},
    {"device.channel.threshold", "a channel", 0.2, 0.5, 8, 20},
    {"device.channel.knee_voltage", "a channel", 50e-3, 0.2, 30, 200},
    {"device.mosfet.channel.gain", "a channel at 1 V above threshold", 20e-3, 0.1, 200, 2e3},
    {"device.mosfet.channel.threshold", "a MOSFET", 0.2, 0.5, 8, 20},
    {"device.mosfet.channel.knee_voltage", "a channel", 50e-3, 0.2, 30, 200},
    {"device.jfet.channel.gain", "a channel at 1 V above threshold", 20e-3, 0.1, 200, 2e3},
    {"device.jfet.channel.threshold", "a normally-on JFET", -50, -25, -1, -0.2},
    {"device.jfet.channel.knee_voltage", "a channel", 50e-3, 0.2, 30, 200},
    {"gate_path.resistor.turn_on", "a gate resistor", 0.05, 0.1, 100, 1000},
    {"gate_path.resistor.turn_off", "a gate resistor", 0.05, 0.1, 100, 1000},
    {"driver.pull_up_resistance", "a driver's output", 0.02, 0.1, 20, 100},
    {"driver.pull_down_resistance", "a driver's output", 0.02, 0.1, 20, 100},
    {"driver.inductance", "the path from the driver", 0.1e-9, 0.5e-9, 100e-9, 500e-9},
    {"driver.return_inductance", "the path to the driver", 0.1e-9, 0.5e-9, 100e-9, 500e-9},
    {"driver.bypass.capacitance", "a driver's bypass", 1e-9, 10e-9, 100e-6, 10e-3},
    {"power_loop.inductance", "a power loop", 0.5e-9, 1e-9, 200e-9, 1e-6},
    {"power_loop.resistance", "a power loop", 1e-6, 0.1e-3, 0.1, 1},
    {"power_loop.complementary.capacitance", "a complementary device", 1e-12, 20e-12, 20e-9, 100e-9},
    {"power_loop.dc_link.capacitance", "a DC link", 1e-9, 10e-9, 10e-3, 1},
    {"power_loop.load.inductance", "a load", 1e-7, 1e-6, 10e-3, 1},
    {"snubber.capacitance", "a snubber", 1e-12, 10e-12, 10e-9, 1e-6},
    {"leg.resistance", "a commutation loop", 1e-6, 0.1e-3, 0.1, 1},
    {"junction_temperature", "a junction", -80, -40, 175, 300},
    {"gate_shunt.capacitance", "a gate shunt", 1e-12, 10e-12, 10e-9, 100e-9},
    {"operation.bus_voltage", "a bus", 5, 12, 6.5e3, 20e3},
    {"operation.load_current", "a switch of paralleled devices", 0.5, 2, 5e3, 20e3},
    {"operation.drive.high", "a drive", 1, 3, 25, 40},
    {"operation.drive.low", "a drive", -40, -25, 5, 10},
};

/// What depends on the kind of device. A HEMT may be normally on or off: of its threshold little is odd.
constexpr Plausible jfet_threshold{"device.channel.threshold", "a normally-on JFET", -50, -25, -1, -0.2};
constexpr Plausible hemt_threshold{"device.channel.threshold", "a HEMT", -30, -20, 3, 8};

const Plausible& of_kind(const Plausible& p, DeviceKind kind) {
    if (std::string_view(p.key) != jfet_threshold.key) return p;
    return kind == DeviceKind::jfet ? jfet_threshold : kind == DeviceKind::hemt ? hemt_threshold : p;
}

/// The gate of a JFET is a junction, which begins to conduct (common practice, no source).
void check_gate_junction(const Case& read, std::vector<Warning>& out) {
    constexpr double conducts_from_v = 3;
    const auto& drive = read.operation.drive;
    if (read.positions.front().device.kind != DeviceKind::jfet || !drive || drive->high_v <= conducts_from_v)
        return;
    out.push_back({"operation.drive.high",
                   fmt::format("{} drives the JFET's gate junction into conduction (from some 2.5 V on): its "
                               "gate current is not modelled",
                               engineering(drive->high_v, Dimension::voltage))});
}

void check_ranges(const Case& read, std::vector<Warning>& out) {
    for (const Plausible& general : plausible) {
        const Plausible& p = of_kind(general, read.positions.front().device.kind);
        ConstNumber number;
        try {
            number = find_number(read, p.key);
        } catch (const InputError&) {
            continue;  // this case has no such key
        }
        for (const double* value : number.values) {
            if (*value == 0 || (*value >= p.lowest && *value <= p.highest)) continue;
            out.push_back({p.key, fmt::format("{} is {} what {} has ({} to {}): a unit slip?",
                                              engineering(*value, number.dimension),
                                              *value < p.lowest ? "below" : "above", p.what,
                                              engineering(p.usual_low, number.dimension),
                                              engineering(p.usual_high, number.dimension))});
            break;  // once for all positions
        }
    }
}

void check_points(const Case& read, std::vector<Warning>& out) {
    const Operation& op = read.operation;
    const std::optional<double> most =
        op.path && op.path->peak_current_a ? op.path->peak_current_a : op.load_current_a;
    for (size_t i = 0; i < op.points.size(); ++i) {
        const Point& p = op.points[i];
        const std::string key = fmt::format("operation.points[{}]", i + 1);
        if (op.bus_voltage_v && p.vds_v > *op.bus_voltage_v)
            out.push_back({key + ".vds", fmt::format("{} at `{}` is above the bus voltage, {}",
                                                     engineering(p.vds_v, Dimension::voltage), p.name,
                                                     engineering(*op.bus_voltage_v, Dimension::voltage))});
        if (most && p.current_a > *most)
            out.push_back({key + ".current", fmt::format("{} at `{}` is above the current of the switch, {}",
                                                         engineering(p.current_a, Dimension::current), p.name,
                                                         engineering(*most, Dimension::current))});
    }
}

}  // namespace

std::vector<Warning> plausibility_warnings(const Case& read) {
    std::vector<Warning> out;
    check_ranges(read, out);
    check_gate_junction(read, out);
    check_points(read, out);
    for (size_t i = 0; i < read.couplings.size(); ++i)
        if (const auto k = read.couplings[i].coefficient; k && std::abs(*k) > 0.9)
            out.push_back(
                {fmt::format("couplings[{}].coefficient", i + 1),
                 fmt::format("{} is above 0.9 in size, more than conductors on a board couple", *k)});
    if (!read.driver.bypass)
        out.push_back(
            {"driver.bypass", "no bypass capacitor is given, so the driver's supply counts as ideal"});
    const bool own_links = std::any_of(read.positions.begin(), read.positions.end(),
                                       [](const Position& p) { return p.leg && p.leg->dc_link; });
    if (!read.power_loop.dc_link && !own_links)
        out.push_back({"power_loop.dc_link", "no DC-link capacitor is given, so the supply counts as ideal"});
    if (!read.power_loop.load) out.push_back({"power_loop.load", "no load is given, so it counts as open"});
    const ComplementaryDevice& c = read.power_loop.complementary;
    if (c.capacitance_f == 0 && !c.curve)
        out.push_back(
            {"power_loop.complementary.capacitance",
             "no capacitance is given, so the power loop is open while the complementary device blocks"});
    const std::vector<Warning> idle = idle_keys(read);
    out.insert(out.end(), idle.begin(), idle.end());
    return out;
}

}  // namespace ringquell::internal
