#include "spread/value_map.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "case/key.h"
#include "network/builder.h"
#include "network/reducer.h"
#include "ringquell/numbers.h"

namespace ringquell::internal {

namespace {

struct DieField {
    const char* name;
    double DieValues::*field;
    bool gain;
};
constexpr std::array die_fields{
    DieField{"channel.transconductance", &DieValues::transconductance_s, true},
    DieField{"channel.output_conductance", &DieValues::output_conductance_s, true},
    DieField{"capacitance.cgs", &DieValues::cgs_f, false},
    DieField{"capacitance.cgd", &DieValues::cgd_f, false},
    DieField{"capacitance.cds", &DieValues::cds_f, false},
    DieField{"capacitance.output_resistance", &DieValues::output_resistance_ohm, false}};

}  // namespace

std::optional<ValueMap::Term> ValueMap::term_of(const Element& element, Case& in,
                                                const OperatingPoint& point) {
    Term term;
    term.reciprocal = element.reciprocal;
    term.scale = element.scale;
    term.position = static_cast<size_t>(std::max(element.position - 1, 0));
    const std::string& name = element.name;
    if (name.starts_with("device.")) {
        if (name == "device.gate_resistance" || name == "device.jfet.gate_resistance") {
            term.source =
                name == "device.gate_resistance" ? Source::gate_resistance : Source::jfet_gate_resistance;
            return term;
        }
        std::string rest = name.substr(7);
        term.jfet = rest.starts_with("jfet.");
        if (rest.starts_with("jfet.")) rest = rest.substr(5);
        if (rest.starts_with("mosfet.")) rest = rest.substr(7);
        for (const DieField& f : die_fields)
            if (rest == f.name) {
                term.source = Source::die;
                term.die = f.field;
                term.may_vanish = f.gain;
                return term;
            }
    }
    if (name == "power_loop.complementary.capacitance") {
        term.source = Source::complementary;
        return term;
    }
    if (name == "leg.complementary.capacitance" && !point.leg_capacitance_f.empty()) {
        term.source = Source::leg;
        return term;
    }
    if (name == "gate_path.resistor") {
        PerEdge& resistor = in.positions[term.position].gate_path.resistor_ohm;
        term.number = point.edge == Edge::turn_on ? &resistor.turn_on : &resistor.turn_off;
        return term;
    }
    if (name == "common_mode_choke.leakage") {
        term.number = &in.positions[term.position].common_mode_choke->leakage_h;
        return term;
    }
    const bool positional = element.position > 0 && is_position_key(name.substr(0, name.find('.')));
    try {
        const Number number = find_number(in, positional ? element.label() : name);
        term.number = number.values.front();
    } catch (const InputError&) {
        return std::nullopt;
    }
    if (element.kind == ElementKind::mutual) {
        if (element.first < 0) return std::nullopt;
        term.source = Source::mutual_of;
        term.coefficient = name.ends_with(".coefficient");
        term.first = static_cast<size_t>(element.first);
        term.second = static_cast<size_t>(element.second);
        term.scale = 1;  // of the whole network
        return term;
    }
    if (name.find(".bead.") != std::string::npos &&
        (name.ends_with(".resistance") || name.ends_with(".inductance"))) {
        const Position& p = in.positions[term.position];
        const auto& bead = name.starts_with("gate_path") ? p.gate_path.bead : p.kelvin().bead;
        if (!bead->saturation.empty()) term.bead = &*bead;
    }
    return term;
}

std::optional<ValueMap> ValueMap::make(const Network& network, Case& in, const OperatingPoint& point) {
    ValueMap out;
    out.edge_ = point.edge;
    out.complementary_ = point.complementary;
    out.complementary_zero_ = point.complementary_capacitance_f == 0;
    for (const Element& element : network.elements) {
        const auto term = term_of(element, in, point);
        if (!term) return std::nullopt;
        out.terms_.push_back(*term);
        out.has_gain_ = out.has_gain_ || term->may_vanish;
        // A mutual inductance is made from values that are in natural units already.
        if (element.in_e() && element.first < 0) out.terms_.back().unit = natural;
    }
    for (size_t k = 0; k < in.positions.size(); ++k) {
        const DeviceValues& v = point.device(static_cast<int>(k));
        if (v.gate_resistance_ohm == 0) out.zeros_.push_back({k, false, nullptr});
        if (in.positions[k].device.kind == DeviceKind::cascode && v.jfet_gate_resistance_ohm == 0)
            out.zeros_.push_back({k, true, nullptr});
        for (const DieField& f : die_fields) {
            if (v.mosfet.*f.field == 0) out.zeros_.push_back({k, false, f.field});
            if (v.jfet.*f.field == 0) out.zeros_.push_back({k, true, f.field});
        }
    }
    const std::vector<double> wanted = Reducer::element_values(network);
    std::vector<double> found(wanted.size());
    if (!out.evaluate(point, found.data())) return std::nullopt;
    constexpr double rounding = 1e-14;
    for (size_t i = 0; i < wanted.size(); ++i)
        if (!(std::abs(found[i] - wanted[i]) <= rounding * std::abs(wanted[i]))) return std::nullopt;
    return out;
}

bool all_off(const OperatingPoint& point) {
    const auto off = [](const DieValues& v) {
        return v.transconductance_s == 0 && v.output_conductance_s == 0;
    };
    return std::all_of(point.devices.begin(), point.devices.end(),
                       [&](const DeviceValues& v) { return off(v.mosfet) && off(v.jfet); });
}

bool ValueMap::evaluate(const OperatingPoint& point, double* values) const {
    if (point.edge != edge_ || point.complementary != complementary_ ||
        (point.complementary_capacitance_f == 0) != complementary_zero_)
        return false;
    const auto die = [&](size_t position, bool jfet) -> const DieValues& {
        const DeviceValues& v = point.device(static_cast<int>(position));
        return jfet ? v.jfet : v.mosfet;
    };
    if (has_gain_ && all_off(point)) return false;  // another structure, which has none
    for (const Zero& z : zeros_) {
        const DeviceValues& v = point.device(static_cast<int>(z.position));
        if ((z.die ? die(z.position, z.jfet).*z.die
                   : (z.jfet ? v.jfet_gate_resistance_ohm : v.gate_resistance_ohm)) != 0)
            return false;
    }
    for (size_t i = 0; i < terms_.size(); ++i) {
        const Term& t = terms_[i];
        double x = 0;
        switch (t.source) {
            case Source::number:
                x = *t.number;
                break;
            case Source::die:
                x = die(t.position, t.jfet).*t.die;
                break;
            case Source::gate_resistance:
                x = point.device(static_cast<int>(t.position)).gate_resistance_ohm;
                break;
            case Source::jfet_gate_resistance:
                x = point.device(static_cast<int>(t.position)).jfet_gate_resistance_ohm;
                break;
            case Source::complementary:
                x = point.complementary_capacitance_f;
                break;
            case Source::leg:
                x = point.leg_capacitance_f[t.position];
                break;
            case Source::mutual_of:
                x = t.coefficient ? *t.number * std::sqrt(values[t.first] * values[t.second])
                                  : *t.number * natural;
                break;
        }
        if (x == 0 && !t.may_vanish) return false;
        if (t.bead) x *= saturation_left(*t.bead, point.gate_current_a);
        x *= t.scale;
        values[i] = t.reciprocal ? 1 / x : x * t.unit;
    }
    return true;
}

bool ValueMap::gain_vanished(const double* values) const {
    for (size_t i = 0; i < terms_.size(); ++i)
        if (terms_[i].may_vanish && values[i] == 0) return true;
    return false;
}

}  // namespace ringquell::internal
