#include <fmt/format.h>

#include <algorithm>
#include <vector>

#include "case/enum_names.h"
#include "page/drawing.h"
#include "page/drawn_parts.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

namespace {

DrawnPart choke(const CommonModeChoke& choke, std::vector<std::string> elements) {
    return {DrawnSymbol::inductor, "choke " + engineering(choke.inductance_h, Dimension::inductance, 2),
            std::move(elements)};
}

/// From its pin to the chip, or back.
DrawnParts lead(const std::string& element, double henry, double ohm) {
    DrawnParts out = inductor(element, henry);
    out += resistor(element + "_resistance", ohm);
    return out;
}

/// The gate lead's and the chip's as one symbol with their sum: there is room for no more.
DrawnParts gate_resistors(double lead_ohm, double chip_ohm) {
    DrawnParts out = resistor("device.gate_resistance", lead_ohm + chip_ohm);
    if (!out.empty()) out.front().elements.emplace_back("device.package.gate_resistance");
    return out;
}

/// From the tap.
DrawnParts gate_parts(const OperatingPoint& point, const Position& p) {
    const GatePath& path = p.gate_path;
    DrawnParts out;
    const double ohm = path.resistor_ohm.of(point.edge);
    if (path.diode) {
        const GateDiode& d = *path.diode;
        const bool blocks = d.blocks == point.edge;
        out.push_back({DrawnSymbol::resistor,
                       fmt::format("{}\nbeside diode\n{}\n+ {}", engineering(ohm, Dimension::resistance, 3),
                                   blocks ? engineering(d.capacitance_f, Dimension::capacitance, 2)
                                          : engineering(d.on_resistance_ohm, Dimension::resistance, 2),
                                   engineering(d.resistor_ohm, Dimension::resistance, 2)),
                       {"gate_path.resistor", "gate_path.diode"}});
    } else {
        out += resistor("gate_path.resistor", ohm);
    }
    out += bead("gate_path", path.bead);
    out += inductor("gate_path.inductance", path.inductance_h);
    if (p.common_mode_choke) out.push_back(choke(*p.common_mode_choke, {"common_mode_choke"}));
    return out;
}

/// From the tap.
DrawnParts kelvin_parts(const Position& p) {
    DrawnParts out = inductor("kelvin_path.inductance", p.kelvin().inductance_h);
    out += bead("kelvin_path", p.kelvin().bead);
    out += resistor("kelvin_path.resistor", p.kelvin().resistor_ohm);
    std::reverse(out.begin(), out.end());
    // Its elements stand at the gate's winding.
    if (p.common_mode_choke) out.push_back(choke(*p.common_mode_choke, {}));
    return out;
}

/// One position from its taps to its rails, drawn in this order: drain side, device, gate side, source side,
/// what stands beside the device.
class PositionDrawing {
  public:
    PositionDrawing(const Case& input, const OperatingPoint& point, int position, const EnergyShares& energy)
        : p_(input.positions[static_cast<size_t>(position - 1)]),
          values_(point.device(position - 1)),
          point_(point),
          position_(position),
          sheet_(energy) {
        // Beside a shunt the lead to the chip begins where its labels end.
        pin_ = p_.gate_shunt ? 190 : lead_from;
        const double parts = std::max(width_of(gate_parts(point_, p_)), width_of(kelvin_parts(p_)));
        tap_ = pin_ - std::max(parts + 6, 254.0);
        gate_y_ = cascode() ? 590 : 340;
        die_bottom_ = gate_y_ + 70;
        source_ = die_bottom_ + 40;
        kelvin_ = source_ + 30;
        const Package& package = p_.device.package;
        source_pin_ = kelvin_ + (package.source_resistance_ohm > 0 ? 120 : 80);
        if (package.drain_resistance_ohm > 0) drain_pin_ = 140;
        source_rail_ = source_pin_ + 110;
        kelvin_tap_ = p_.device.package.kelvin_h ? kelvin_ : source_pin_;
    }
    void drain_side();
    void device();
    void gate_side();
    void kelvin_side();
    void source_side();
    void beside_gate();
    void beside_device();
    void pins();

    bool cascode() const { return p_.device.kind == DeviceKind::cascode; }
    const Sheet& sheet() const { return sheet_; }
    double width() const { return right_ - left(); }
    double height() const { return source_rail_ + 40; }
    static double device_x() { return middle; }
    double left() const { return tap_ - 46; }

  private:
    static constexpr double lead_from = 300, gate = 480, middle = 600;
    static constexpr double drain_rail = 34, drain = 260;

    /// A die between `top` (drain) and `bottom` (source). `output_in_cgd`: its output resistance is in series
    /// with cgd, else with cds.
    struct DrawnDie {
        std::string name;
        const DieValues& values;
        const Die& die;
        bool output_in_cgd = false;
        double top = 0, bottom = 0;
    };
    void die(const DrawnDie& d);
    void jfet(double mid);
    void beside(double x, const char* name, const DrawnParts& parts);

    const Position& p_;
    const DeviceValues& values_;
    const OperatingPoint& point_;
    int position_;
    Sheet sheet_;
    // Heights; a cascode is taller, and a lead with a resistance longer.
    double drain_pin_ = 170;
    double gate_y_ = 0, die_bottom_ = 0, source_ = 0, kelvin_ = 0, source_pin_ = 0, source_rail_ = 0;
    double kelvin_tap_ = 0;
    double tap_ = 0, pin_ = 0, right_ = 830;
};

void PositionDrawing::die(const DrawnDie& d) {
    constexpr double right = 735;
    const std::string name = d.name + ".capacitance";
    DrawnParts cgd = capacitor(name + ".cgd", d.values.cgd_f);
    DrawnParts cds = capacitor(name + ".cds", d.values.cds_f);
    (d.output_in_cgd ? cgd : cds) += resistor(name + ".output_resistance", d.die.output_resistance_ohm);
    if (!cgd.empty()) sheet_.series(gate, d.top, middle, d.top, cgd);
    sheet_.series(gate, d.bottom, middle, d.bottom, capacitor(name + ".cgs", d.values.cgs_f));
    sheet_.wire(gate, d.top, gate, d.bottom);
    sheet_.wire(middle, d.top, middle, d.bottom);
    sheet_.channel(middle, (d.top + d.bottom) / 2, d.values);
    if (!cds.empty()) {
        sheet_.wire(middle, d.top, right, d.top);
        sheet_.wire(middle, d.bottom, right, d.bottom);
        sheet_.series(right, d.top, right, d.bottom, cds);
    }
    sheet_.joint(middle, d.top);
    sheet_.joint(middle, d.bottom);
}

void PositionDrawing::drain_side() {
    sheet_.terminal(middle, drain_rail);
    sheet_.text(middle - 12, drain_rail - 12, "drain rail");
    DrawnParts path = resistor("drain_path.resistance", p_.drain_path.resistance_ohm);
    path += inductor("drain_path.inductance", p_.drain_path.inductance_h);
    sheet_.series(middle, drain_rail, middle, drain_pin_, path);
    const Package& package = p_.device.package;
    sheet_.series(middle, drain_pin_, middle, drain,
                  lead("device.package.drain", package.drain_h, package.drain_resistance_ohm));
}

void PositionDrawing::jfet(double mid) {
    constexpr double jfet_gate = 400;
    const double bottom = drain + 140, half = (drain + bottom) / 2;
    const Bonds& bonds = p_.device.bonds;
    die({"device.jfet", values_.jfet, p_.device.jfet, true, drain, bottom});
    sheet_.series(middle, bottom, middle, mid, inductor("device.bonds.mid", bonds.mid_h));
    DrawnParts parts = resistor("device.jfet.gate_resistance", values_.jfet_gate_resistance_ohm);
    parts += inductor("device.bonds.jfet_gate", bonds.jfet_gate_h);
    const double to = bonds.jfet_gate_to == JfetGateTo::source_pin ? source_pin_ : source_;
    sheet_.wire(gate, half, jfet_gate, half);
    sheet_.series(jfet_gate, half, jfet_gate, gate_y_ - 30, parts, true);
    sheet_.wire(jfet_gate, gate_y_ - 30, jfet_gate, to);
    sheet_.wire(jfet_gate, to, middle, to);
    sheet_.joint(middle, to);
    sheet_.text(gate + 8, bottom - 60, "JFET", "start");
    sheet_.text(gate + 8, die_bottom_ - 60, "MOSFET", "start");
}

void PositionDrawing::device() {
    if (!cascode()) {
        die({"device", values_.mosfet, p_.device.mosfet, false, drain, die_bottom_});
        return;
    }
    const double mid = gate_y_ - 70;
    jfet(mid);
    die({"device.mosfet", values_.mosfet, p_.device.mosfet, false, mid, die_bottom_});
}

void PositionDrawing::gate_side() {
    sheet_.terminal(tap_, gate_y_);
    sheet_.text(tap_ - 40, gate_y_ - 14, "gate", "start");
    sheet_.text(tap_ - 40, gate_y_ + 26, "tap", "start");
    sheet_.series(tap_ + 6, gate_y_, pin_, gate_y_, gate_parts(point_, p_));
    sheet_.wire(pin_, gate_y_, lead_from, gate_y_);
    const Package& package = p_.device.package;
    DrawnParts parts = inductor("device.package.gate", package.gate_h);
    parts += gate_resistors(package.gate_resistance_ohm, values_.gate_resistance_ohm);
    sheet_.series(lead_from, gate_y_, gate, gate_y_, parts);
    sheet_.joint(pin_, gate_y_);
    sheet_.joint(gate, gate_y_);
    sheet_.text(pin_ - 6, gate_y_ + 44, "gate pin", "end");
}

void PositionDrawing::kelvin_side() {
    const Package& package = p_.device.package;
    const double y = kelvin_tap_;
    sheet_.wire(pin_, y, lead_from, y);
    if (package.kelvin_h)
        sheet_.series(lead_from, y, middle, y,
                      lead("device.package.kelvin", *package.kelvin_h, package.kelvin_resistance_ohm));
    else
        sheet_.wire(lead_from, y, middle, y);
    if (p_.kelvin_path) {
        sheet_.series(tap_ + 6, y, pin_, y, kelvin_parts(p_));
        sheet_.terminal(tap_, y);
        sheet_.text(tap_ - 40, y - 14, "Kelvin", "start");
        sheet_.text(tap_ - 40, y + 26, "tap", "start");
    }
    sheet_.joint(pin_, y);
    sheet_.text(pin_ - 6, y + 44, package.kelvin_h ? "Kelvin pin" : "source pin", "end");
}

void PositionDrawing::source_side() {
    sheet_.wire(middle, die_bottom_, middle, kelvin_);
    const Package& package = p_.device.package;
    sheet_.series(middle, kelvin_, middle, source_pin_,
                  lead("device.package.source", package.source_h, package.source_resistance_ohm));
    kelvin_side();
    DrawnParts path = inductor("source_path.inductance", p_.source_path.inductance_h);
    path += resistor("source_path.resistance", p_.source_path.resistance_ohm);
    sheet_.series(middle, source_pin_, middle, source_rail_, path);
    sheet_.terminal(middle, source_rail_);
    sheet_.text(middle + 12, source_rail_ + 24, "source rail");
}

void PositionDrawing::beside_gate() {
    if (p_.gate_shunt) sheet_.series(pin_, gate_y_, pin_, kelvin_tap_, rlc("gate_shunt", *p_.gate_shunt));
    if (!p_.gate_drain) return;
    constexpr double names = 90;  // what stands before the drain pin
    sheet_.wire(pin_, gate_y_, pin_, drain_pin_);
    sheet_.series(pin_, drain_pin_, middle - names, drain_pin_, rlc("gate_drain", *p_.gate_drain));
    sheet_.wire(middle - names, drain_pin_, middle, drain_pin_);
    sheet_.text(pin_ + 8, drain_pin_ + 44, "gate to drain", "start");
}

void PositionDrawing::beside(double x, const char* name, const DrawnParts& parts) {
    sheet_.wire(middle, drain_pin_, x, drain_pin_);
    sheet_.wire(middle, source_pin_, x, source_pin_);
    sheet_.series(x, drain_pin_, x, source_pin_, parts);
    sheet_.text(x + 12, drain_pin_ - 10, name, "start");
}

void PositionDrawing::beside_device() {
    constexpr double snubber = 850, leg = 990;
    if (p_.snubber) {
        beside(snubber, "snubber", rlc("snubber", *p_.snubber));
        right_ = 960;
    }
    if (p_.leg) {
        DrawnParts parts = inductor("leg.inductance", p_.leg->inductance_h);
        parts += resistor("leg.resistance", p_.leg->resistance_ohm);
        const double farad = point_.leg_capacitance_f.empty()
                                 ? p_.leg->complementary.capacitance_f
                                 : point_.leg_capacitance_f[static_cast<size_t>(position_ - 1)];
        parts += complementary("leg.complementary", p_.leg->complementary, point_.complementary, farad);
        parts += with_esr("leg.dc_link", p_.leg->dc_link);
        beside(leg, "own leg", parts);
        right_ = 1100;
    }
}

void PositionDrawing::pins() {
    sheet_.joint(middle, drain_pin_);
    sheet_.joint(middle, source_pin_);
    sheet_.text(middle - 10, drain_pin_ - 6, "drain pin", "end");
    sheet_.text(middle - 10, source_pin_ + (p_.device.package.kelvin_h ? 4 : -8), "source pin", "end");
    if (!p_.tab) return;
    constexpr double tab = 735;
    sheet_.series(tab, drain, tab, 62, rlc("tab", *p_.tab));
    sheet_.text(tab, 50, "tab");
}

}  // namespace

std::string position_drawing(const Case& input, const OperatingPoint& point, int position,
                             const EnergyShares& energy, ShownEnergy* shown) {
    PositionDrawing drawing(input, point, position, energy);
    drawing.drain_side();
    drawing.device();
    drawing.gate_side();
    drawing.source_side();
    drawing.beside_gate();
    drawing.beside_device();
    drawing.pins();
    const Sheet& sheet = drawing.sheet();
    const std::string description = fmt::format(
        "One {} between gate, Kelvin, drain and source taps, with the values at {}.{} The table "
        "below lists every element.",
        kind_word(input.positions[static_cast<size_t>(position - 1)].device.kind), point.name,
        standing_out(energy, sheet.heavy()));
    return framed(
        sheet,
        {drawing.width(), drawing.height(), "position-drawing",
         fmt::format("Position {} as a circuit", position), description, drawing.device_x(), drawing.left()},
        shown);
}

}  // namespace ringquell::internal
