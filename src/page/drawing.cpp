#include "page/drawing.h"

#include <fmt/format.h>

#include <algorithm>
#include <complex>
#include <numbers>
#include <vector>

#include "case/enum_names.h"
#include "report/markup.h"
#include "ringquell/bead_fit.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

namespace {

/// Wires and what is not there draw nothing.
DrawnParts resistor(const char* element, double ohm) {
    if (ohm == 0) return {};
    return {{DrawnSymbol::resistor, engineering(ohm, Dimension::resistance, 3), {element}}};
}
DrawnParts inductor(const char* element, double henry) {
    if (henry == 0) return {};
    return {{DrawnSymbol::inductor, engineering(henry, Dimension::inductance, 3), {element}}};
}
DrawnParts capacitor(const char* element, double farad) {
    if (farad == 0) return {};
    return {{DrawnSymbol::capacitor, engineering(farad, Dimension::capacitance, 3), {element}}};
}

DrawnParts rlc(const std::string& name, const SeriesRlc& x) {
    DrawnParts out = capacitor((name + ".capacitance").c_str(), x.capacitance_f);
    out += resistor((name + ".resistance").c_str(), x.resistance_ohm);
    out += inductor((name + ".inductance").c_str(), x.inductance_h);
    return out;
}
DrawnParts with_esr(const std::string& name, const std::optional<Capacitor>& c) {
    if (!c) return {};
    DrawnParts out = capacitor((name + ".capacitance").c_str(), c->capacitance_f);
    out += resistor((name + ".esr").c_str(), c->esr_ohm);
    out += inductor((name + ".esl").c_str(), c->esl_h);
    return out;
}
DrawnParts bead(const std::string& path, const std::optional<Bead>& b) {
    if (!b) return {};
    constexpr double at_hz = 100e6;
    const double ohm = std::abs(bead_impedance_ohm(*b, {0, 2 * std::numbers::pi * at_hz}));
    return {{DrawnSymbol::bead,
             fmt::format("bead {} at {}", engineering(ohm, Dimension::resistance, 2),
                         engineering(at_hz, Dimension::frequency)),
             {path + ".bead"}}};
}
DrawnParts complementary(const std::string& name, const ComplementaryDevice& c, Complementary state,
                         double farad) {
    if (state == Complementary::conducting)
        return resistor((name + ".on_resistance").c_str(), c.on_resistance_ohm);
    DrawnParts out = capacitor((name + ".capacitance").c_str(), farad);
    out += resistor((name + ".resistance").c_str(), c.resistance_ohm);
    return out;
}

std::string framed(const Sheet& sheet, double width, double height, const std::string& id,
                   const std::string& title, const std::string& description) {
    return fmt::format(
        "<svg viewBox=\"0 0 {0:g} {1:g}\" role=\"img\" aria-labelledby=\"{2}-title {2}-text\"><title "
        "id=\"{2}-title\">{3}</title><desc id=\"{2}-text\">{4}</desc>\n{5}</svg>\n",
        width, height, id, escaped(title), escaped(description), sheet.svg());
}

std::string standing_out(const EnergyShares& energy, double heavy) {
    if (energy.empty()) return "";
    std::vector<std::pair<double, std::string>> by_share;
    for (const auto& [name, share] : energy)
        if (share > 0 && share >= heavy) by_share.emplace_back(share, name);
    std::sort(by_share.rbegin(), by_share.rend());
    std::string out = " Most of the worst mode's energy is in ";
    constexpr size_t most = 8;
    for (size_t k = 0; k < std::min(most, by_share.size()); ++k)
        out += fmt::format("{}{} ({})", k ? ", " : "", by_share[k].second, percentage(by_share[k].first));
    return out + ".";
}

DrawnParts gate_parts(const OperatingPoint& point, const Position& p) {
    const GatePath& path = p.gate_path;
    DrawnParts out;
    const double ohm = path.resistor_ohm.of(point.edge);
    if (path.diode) {
        const GateDiode& d = *path.diode;
        const bool blocks = d.blocks == point.edge;
        out.push_back({DrawnSymbol::resistor,
                       fmt::format("{} beside diode {} + {}", engineering(ohm, Dimension::resistance, 3),
                                   blocks ? engineering(d.capacitance_f, Dimension::capacitance, 2)
                                          : engineering(d.on_resistance_ohm, Dimension::resistance, 2),
                                   engineering(d.resistor_ohm, Dimension::resistance, 2)),
                       {"gate_path.resistor", "gate_path.diode"}});
    } else {
        out += resistor("gate_path.resistor", ohm);
    }
    out += bead("gate_path", path.bead);
    out += inductor("gate_path.inductance", path.inductance_h);
    if (p.common_mode_choke)
        out.push_back({DrawnSymbol::inductor,
                       "choke " + engineering(p.common_mode_choke->inductance_h, Dimension::inductance, 2),
                       {"common_mode_choke"}});
    return out;
}

void add(ShownEnergy* shown, const Sheet& sheet) {
    if (shown == nullptr) return;
    shown->elements.insert(sheet.shown().elements.begin(), sheet.shown().elements.end());
    shown->with_percentage += sheet.shown().with_percentage;
}

/// Where things stand; a cascode is taller.
struct Heights {
    double drain_rail = 34, drain_pin = 170, drain = 260;
    double gate, kelvin, source, source_pin, source_rail;
};

void draw_die(Sheet& sheet, const std::string& name, const DieValues& v, const Die& die, bool output_in_cgd,
              double top, double bottom) {
    constexpr double left = 480, middle = 600, right = 735;
    const double out_ohm = die.output_resistance_ohm;
    DrawnParts cgd = capacitor((name + ".capacitance.cgd").c_str(), v.cgd_f);
    DrawnParts cds = capacitor((name + ".capacitance.cds").c_str(), v.cds_f);
    (output_in_cgd ? cgd : cds) += resistor((name + ".capacitance.output_resistance").c_str(), out_ohm);
    if (!cgd.empty()) sheet.series(left, top, middle, top, cgd);
    sheet.series(left, bottom, middle, bottom, capacitor((name + ".capacitance.cgs").c_str(), v.cgs_f));
    sheet.wire(left, top, left, bottom);
    sheet.wire(middle, top, middle, bottom);
    sheet.channel(middle, (top + bottom) / 2, v);
    if (!cds.empty()) {
        sheet.wire(middle, top, right, top);
        sheet.wire(middle, bottom, right, bottom);
        sheet.series(right, top, right, bottom, cds);
    }
    sheet.joint(middle, top);
    sheet.joint(middle, bottom);
}

}  // namespace

std::string position_drawing(const Case& input, const OperatingPoint& point, int position,
                             const EnergyShares& energy, ShownEnergy* shown) {
    const Position& p = input.positions[static_cast<size_t>(position - 1)];
    const DeviceValues& v = point.device(position - 1);
    const bool cascode = p.device.kind == DeviceKind::cascode;
    Sheet sheet(energy);
    Heights y{};
    y.gate = cascode ? 590 : 340;
    const double die_bottom = y.gate + 70;
    y.source = die_bottom + 40;
    y.kelvin = y.source + 30;
    y.source_pin = y.kelvin + 80;
    y.source_rail = y.source_pin + 110;
    constexpr double tap = 46, pin = 300, gate = 480, middle = 600, snubber = 850, leg = 990;

    // Drain side.
    sheet.terminal(middle, y.drain_rail);
    sheet.text(middle - 12, y.drain_rail - 12, "drain rail");
    DrawnParts drain_path = resistor("drain_path.resistance", p.drain_path.resistance_ohm);
    drain_path += inductor("drain_path.inductance", p.drain_path.inductance_h);
    sheet.series(middle, y.drain_rail, middle, y.drain_pin, drain_path);
    sheet.series(middle, y.drain_pin, middle, y.drain,
                 inductor("device.package.drain", p.device.package.drain_h));
    // The device.
    if (cascode) {
        constexpr double jfet_gate = 400;
        const double jfet_bottom = y.drain + 140, mid = y.gate - 70;
        draw_die(sheet, "device.jfet", v.jfet, p.device.jfet, true, y.drain, jfet_bottom);
        sheet.series(middle, jfet_bottom, middle, mid, inductor("device.bonds.mid", p.device.bonds.mid_h));
        DrawnParts gate_parts_of_jfet = resistor("device.jfet.gate_resistance", v.jfet_gate_resistance_ohm);
        gate_parts_of_jfet += inductor("device.bonds.jfet_gate", p.device.bonds.jfet_gate_h);
        const double to = p.device.bonds.jfet_gate_to == JfetGateTo::source_pin ? y.source_pin : y.source;
        sheet.wire(gate, (y.drain + jfet_bottom) / 2, jfet_gate, (y.drain + jfet_bottom) / 2);
        sheet.series(jfet_gate, (y.drain + jfet_bottom) / 2, jfet_gate, y.gate - 30, gate_parts_of_jfet,
                     true);
        sheet.wire(jfet_gate, y.gate - 30, jfet_gate, to);
        sheet.wire(jfet_gate, to, middle, to);
        sheet.joint(middle, to);
        sheet.text(gate + 8, jfet_bottom - 60, "JFET", "start");
        sheet.text(gate + 8, die_bottom - 60, "MOSFET", "start");
        draw_die(sheet, "device.mosfet", v.mosfet, p.device.mosfet, false, mid, die_bottom);
    } else {
        draw_die(sheet, "device", v.mosfet, p.device.mosfet, false, y.drain, die_bottom);
    }
    // Gate side.
    sheet.terminal(tap, y.gate);
    sheet.text(tap - 34, y.gate - 14, "gate", "start");
    sheet.text(tap - 34, y.gate + 26, "tap", "start");
    sheet.series(tap + 6, y.gate, pin, y.gate, gate_parts(point, p));
    DrawnParts lead = inductor("device.package.gate", p.device.package.gate_h);
    lead += resistor("device.gate_resistance", v.gate_resistance_ohm);
    sheet.series(pin, y.gate, gate, y.gate, lead);
    sheet.joint(pin, y.gate);
    sheet.joint(gate, y.gate);
    sheet.text(pin - 6, y.gate + 40, "gate pin", "end");
    // Source and Kelvin side.
    sheet.wire(middle, die_bottom, middle, y.kelvin);
    sheet.series(middle, y.kelvin, middle, y.source_pin,
                 inductor("device.package.source", p.device.package.source_h));
    DrawnParts kelvin = inductor("kelvin_path.inductance", p.kelvin().inductance_h);
    kelvin += bead("kelvin_path", p.kelvin().bead);
    kelvin += resistor("kelvin_path.resistor", p.kelvin().resistor_ohm);
    std::reverse(kelvin.begin(), kelvin.end());  // from the tap
    if (p.common_mode_choke)
        kelvin.push_back({DrawnSymbol::inductor,
                          "choke " + engineering(p.common_mode_choke->inductance_h, Dimension::inductance, 2),
                          {}});
    const double kelvin_y = p.device.package.kelvin_h ? y.kelvin : y.source_pin;
    if (p.device.package.kelvin_h)
        sheet.series(pin, kelvin_y, middle, kelvin_y,
                     inductor("device.package.kelvin", *p.device.package.kelvin_h));
    else
        sheet.wire(pin, kelvin_y, middle, kelvin_y);
    if (p.kelvin_path) {
        sheet.series(tap + 6, kelvin_y, pin, kelvin_y, kelvin);
        sheet.terminal(tap, kelvin_y);
        sheet.text(tap - 34, kelvin_y - 14, "Kelvin", "start");
        sheet.text(tap - 34, kelvin_y + 26, "tap", "start");
    }
    sheet.joint(pin, kelvin_y);
    sheet.text(pin - 6, kelvin_y + 40, p.device.package.kelvin_h ? "Kelvin pin" : "source pin", "end");
    DrawnParts source_path = inductor("source_path.inductance", p.source_path.inductance_h);
    source_path += resistor("source_path.resistance", p.source_path.resistance_ohm);
    sheet.series(middle, y.source_pin, middle, y.source_rail, source_path);
    sheet.terminal(middle, y.source_rail);
    sheet.text(middle + 12, y.source_rail + 24, "source rail");
    // What stands beside the device.
    if (p.gate_shunt) sheet.series(pin, y.gate, pin, kelvin_y, rlc("gate_shunt", *p.gate_shunt));
    if (p.gate_drain) {
        sheet.wire(pin, y.gate, pin, y.drain_pin);
        sheet.series(pin, y.drain_pin, middle, y.drain_pin, rlc("gate_drain", *p.gate_drain));
        sheet.text(pin + 8, y.drain_pin + 20, "gate to drain", "start");
    }
    const auto beside = [&](double x, const char* name, const DrawnParts& parts) {
        sheet.wire(middle, y.drain_pin, x, y.drain_pin);
        sheet.wire(middle, y.source_pin, x, y.source_pin);
        sheet.series(x, y.drain_pin, x, y.source_pin, parts);
        sheet.text(x + 12, y.drain_pin - 10, name, "start");
    };
    double right = 800;
    if (p.snubber) beside(snubber, "snubber", rlc("snubber", *p.snubber)), right = 960;
    if (p.leg) {
        DrawnParts parts = inductor("leg.inductance", p.leg->inductance_h);
        const double farad = point.leg_capacitance_f.empty()
                                 ? p.leg->complementary.capacitance_f
                                 : point.leg_capacitance_f[static_cast<size_t>(position - 1)];
        parts += complementary("leg.complementary", p.leg->complementary, point.complementary, farad);
        parts += with_esr("leg.dc_link", p.leg->dc_link);
        beside(leg, "own leg", parts);
        right = 1100;
    }
    sheet.joint(middle, y.drain_pin);
    sheet.joint(middle, y.source_pin);
    sheet.text(middle - 10, y.drain_pin - 6, "drain pin", "end");
    sheet.text(middle - 10, y.source_pin + (p.device.package.kelvin_h ? 4 : -8), "source pin", "end");
    if (p.tab) {
        constexpr double tab = 735;
        sheet.series(tab, y.drain, tab, 62, rlc("tab", *p.tab));
        sheet.text(tab, 50, "tab");
    }
    add(shown, sheet);
    return framed(
        sheet, right, y.source_rail + 40, "position-drawing",
        fmt::format("Position {} as a circuit", position),
        fmt::format("{} between gate, Kelvin, drain and source taps, with the values at {}.{} The table "
                    "below lists every element.",
                    cascode ? "A cascode" : "A MOSFET", point.name, standing_out(energy, sheet.heavy())));
}

namespace {

/// All segments of a rail as one symbol; wires draw nothing.
DrawnParts segments(DrawnSymbol symbol, const std::string& element, const std::vector<double>& values,
                    Dimension dimension) {
    if (std::all_of(values.begin(), values.end(), [](double x) { return x == 0; })) return {};
    const auto [low, high] = std::minmax_element(values.begin(), values.end());
    std::string each = engineering(*low, dimension, 3);
    if (*low != *high) each += " to " + engineering(*high, dimension, 3);
    return {{symbol, values.size() == 1 ? each : fmt::format("{} times {}", values.size(), each), {element}}};
}

/// Not where every position has its own driver, and no Kelvin rail where each of these is isolated or no
/// position has a Kelvin path.
bool joins_positions(const Case& input, Rail rail) {
    const DriverSharing sharing = input.driver.per_position;
    if (rail == Rail::gate) return sharing == DriverSharing::shared;
    return rail != Rail::kelvin || (sharing != DriverSharing::isolated &&
                                    std::any_of(input.positions.begin(), input.positions.end(),
                                                [](const Position& p) { return p.kelvin_path.has_value(); }));
}

}  // namespace

std::string shared_drawing(const Case& input, const OperatingPoint& point, const EnergyShares& energy,
                           ShownEnergy* shown) {
    Sheet sheet(energy);
    constexpr double left = 70, right = 930, row = 104;
    double y = 64;
    const auto string = [&](const std::string& name, const std::string& from, const std::string& to,
                            const DrawnParts& parts) {
        sheet.text(left - 50, y - 40, name, "start");
        sheet.terminal(left, y);
        sheet.terminal(right, y);
        sheet.series(left + 6, y, right - 6, y, parts);
        sheet.text(left - 50, y + 26, from, "start");
        sheet.text(right + 40, y + 26, to, "end");
        y += row;
    };
    const Driver& d = input.driver;
    const bool on = point.edge == Edge::turn_on;
    DrawnParts parts = inductor("driver.inductance", d.inductance_h);
    parts += on ? resistor("driver.pull_up_resistance", d.pull_up_resistance_ohm)
                : resistor("driver.pull_down_resistance", d.pull_down_resistance_ohm);
    parts += on ? with_esr("driver.bypass", d.bypass) : with_esr("driver.turn_off_bypass", d.turn_off_bypass);
    parts += inductor("driver.return_inductance", d.return_inductance_h);
    const char* whose = d.per_position == DriverSharing::shared   ? "driver"
                        : d.per_position == DriverSharing::buffer ? "driver, a buffer at each position"
                                                                  : "driver, isolated at each position";
    const bool own = d.per_position != DriverSharing::shared;
    string(fmt::format("{}, {}", whose, on ? "turning on" : "turning off"), own ? "gate tap" : "gate feed",
           d.return_to == DriverReturn::source_rail && d.per_position != DriverSharing::isolated
               ? "source feed"
           : own ? "Kelvin tap"
                 : "Kelvin feed",
           parts);
    if (d.per_position == DriverSharing::isolated && d.barrier_capacitance_f != 0) {
        DrawnParts barrier = capacitor("driver.barrier_capacitance", d.barrier_capacitance_f);
        barrier += resistor("driver.barrier_resistance", d.barrier_resistance_ohm);
        string("isolation barrier of each driver", "driver ground", "source feed", barrier);
    }
    const PowerLoop& loop = input.power_loop;
    parts = inductor("power_loop.inductance", loop.inductance_h);
    parts += resistor("power_loop.resistance", loop.resistance_ohm);
    parts += complementary("power_loop.complementary", loop.complementary, point.complementary,
                           point.complementary_capacitance_f);
    parts += with_esr("power_loop.dc_link", loop.dc_link);
    string(fmt::format("power loop: the complementary device {}, then the DC link",
                       point.complementary == Complementary::conducting ? "conducts" : "blocks"),
           "drain feed", "source feed", parts);
    if (loop.load && loop.load->inductance_h)
        string("load", "drain feed", "source feed",
               inductor("power_loop.load.inductance", *loop.load->inductance_h));
    if (loop.load && loop.load->capacitance_f > 0) {
        parts = capacitor("power_loop.load.capacitance", loop.load->capacitance_f);
        parts += resistor("power_loop.load.resistance", loop.load->resistance_ohm);
        string("capacitance of the load", "drain feed", "source feed", parts);
    }
    const auto word = [](size_t r) { return r == 1 ? "Kelvin" : rail_names[r]; };
    for (size_t r = 0; r < rail_names.size(); ++r) {
        const auto& bus = input.buses[r];
        if (!joins_positions(input, static_cast<Rail>(r)) || !bus || input.n() == 1) continue;
        const std::string key = fmt::format("buses.{}", rail_names[r]);
        parts =
            segments(DrawnSymbol::inductor, key + ".inductance", bus->inductance_h, Dimension::inductance);
        parts +=
            segments(DrawnSymbol::resistor, key + ".resistance", bus->resistance_ohm, Dimension::resistance);
        string(fmt::format("{} rail: a row of {} taps, fed at tap {}", word(r), input.n(), bus->feed_at),
               "tap 1", fmt::format("tap {}", input.n()), parts);
    }
    for (size_t r = 0; r < rail_names.size(); ++r) {
        const bool joins = joins_positions(input, static_cast<Rail>(r));
        if (joins && input.buses[r] && input.n() > 1) continue;
        sheet.text(left - 50, y - 30,
                   fmt::format("{} rail: {}", word(r),
                               joins ? "a star, one node" : "none; nothing joins the positions there"),
                   "start");
        y += 26;
    }
    add(shown, sheet);
    return framed(sheet, 1000, y - 20, "shared-drawing", "What the positions share",
                  fmt::format("Driver, power loop, load and rails, with the values at {}.{}", point.name,
                              standing_out(energy, sheet.heavy())));
}

}  // namespace ringquell::internal
