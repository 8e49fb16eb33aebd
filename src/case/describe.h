// The keys of the case file, once: which key of which block holds which field, in what unit, within what
// bounds. Reading (FieldReader), writing (write_case.cpp) and addressing (numbers.cpp) are visitors of these
// functions, so a new key is one line here.
//
// A visitor V offers, with fields that are const where it only looks at them,
//   number(key, double& or optional<double>&, NumberSpec)
//   integer(key, int&)
//   boolean(key, bool&)
//   text(key, string&)
//   texts(key, vector<string>&)
//   choice(key, enum&, names in the order of the enum, mandatory)
//   block(key, T& or optional<T>&, mandatory, describer)
// and one function for each shape that is none of these: edges, die_resistance, channel, die_capacitance,
// transfer_curves, capacitance_rows, complementary_capacitance, sections, pairs, segments, temperatures,
// durations, limits.
#pragma once

#include <array>
#include <concepts>
#include <type_traits>

#include "case/enum_names.h"
#include "case/number_spec.h"
#include "ringquell/case.h"

namespace ringquell::internal {

inline constexpr bool is_mandatory = true;

/// What every visitor derives from, so that describe() is found for it.
struct Visitor {};

/// A T that may be const: what is only looked at is described by the same function as what is read into.
template <class C, class T>
concept Like = std::same_as<std::remove_const_t<C>, T>;

/// The usual describer: what describe() says of the type.
struct Describe {
    template <class V, class T>
    void operator()(V& v, T& x) const {
        describe(v, x);
    }
};

// ---- a device -------------------------------------------------------------------------------------------

template <class V, Like<FixedChannel> T>
void describe(V& v, T& c) {
    v.number("transconductance", c.transconductance_s, mandatory(siemens));
    v.number("output_conductance", c.output_conductance_s, siemens);
}

template <class V, Like<FormulaChannel> T>
void describe(V& v, T& c) {
    v.number("threshold", c.threshold_v, mandatory(any_sign(volts)));
    v.number("gain", c.gain_a, mandatory(positive(amperes)));
    v.number("exponent", c.exponent, positive(plain));
    v.number("knee_voltage", c.knee_voltage_v, mandatory(positive(volts)));
    v.number("output_slope", c.output_slope_per_v, NumberSpec{Dimension::per_volt});
}

template <class V, Like<TransferChannel> T>
void describe(V& v, T& c) {
    v.transfer_curves("transfer", c.curves);
    v.number("knee_voltage", c.knee_voltage_v, mandatory(positive(volts)));
    v.number("output_slope", c.output_slope_per_v, NumberSpec{Dimension::per_volt});
    v.number("threshold_shift", c.threshold_shift_v, any_sign(volts));
    v.number("gain_factor", c.gain_factor, positive(plain));
}

template <class V, Like<FixedCapacitance> T>
void describe(V& v, T& c) {
    v.number("cgs", c.cgs_f, farads);
    v.number("cgd", c.cgd_f, farads);
    v.number("cds", c.cds_f, farads);
}

template <class V, Like<CapacitanceTable> T>
void describe(V& v, T& c) {
    v.capacitance_rows("table", c);
    v.number("gate_voltage", c.gate_voltage_v, any_sign(volts));
    v.number("ciss_factor", c.ciss_factor, positive(plain));
    v.number("coss_factor", c.coss_factor, positive(plain));
    v.number("crss_factor", c.crss_factor, positive(plain));
}

/// The map `capacitance` of a die: one of two forms, and the resistance in series with the output
/// capacitance.
struct DescribeDieCapacitance {
    template <class V, Like<Die> T>
    void operator()(V& v, T& die) const {
        std::visit([&](auto& form) { describe(v, form); }, die.capacitance);
        v.number("output_resistance", die.output_resistance_ohm, ohms);
    }
};

/// The map `channel` of a die: one of three forms.
struct DescribeChannel {
    template <class V, Like<Die> T>
    void operator()(V& v, T& die) const {
        std::visit([&](auto& form) { describe(v, form); }, die.channel);
    }
};

template <class V, Like<Die> T>
void describe(V& v, T& die) {
    v.channel("channel", die);
    v.die_capacitance("capacitance", die);
}

struct DescribeCascodeMosfet {
    template <class V, Like<Die> T>
    void operator()(V& v, T& die) const {
        describe(v, die);
        v.number("avalanche_voltage", die.avalanche_voltage_v, positive(volts));
    }
};

struct DescribeJfet {
    template <class V, Like<Device> T>
    void operator()(V& v, T& device) const {
        v.die_resistance("gate_resistance", device.jfet_gate_resistance, is_mandatory);
        describe(v, device.jfet);
    }
};

template <class V, Like<Package> T>
void describe(V& v, T& p) {
    v.number("gate", p.gate_h, henries);
    v.number("drain", p.drain_h, henries);
    v.number("source", p.source_h, henries);
    v.number("kelvin", p.kelvin_h, henries);
    v.number("gate_resistance", p.gate_resistance_ohm, ohms);
    v.number("drain_resistance", p.drain_resistance_ohm, ohms);
    v.number("source_resistance", p.source_resistance_ohm, ohms);
    v.number("kelvin_resistance", p.kelvin_resistance_ohm, ohms);
}

template <class V, Like<Bonds> T>
void describe(V& v, T& b) {
    v.number("mid", b.mid_h, mandatory(henries));
    v.number("jfet_gate", b.jfet_gate_h, mandatory(henries));
    v.choice("jfet_gate_to", b.jfet_gate_to, jfet_gate_names, !is_mandatory);
}

template <class V, Like<Device> T>
void describe(V& v, T& d) {
    v.choice("kind", d.kind, kind_names, is_mandatory);
    v.die_resistance("gate_resistance", d.gate_resistance, !is_mandatory);
    v.block("package", d.package);
    if (d.kind != DeviceKind::cascode) {
        describe(v, d.mosfet);
    } else {
        v.block("bonds", d.bonds, is_mandatory);
        v.block("mosfet", d.mosfet, is_mandatory, DescribeCascodeMosfet{});
        v.block("jfet", d, is_mandatory, DescribeJfet{});
    }
}

// ---- what joins a position to the rest ------------------------------------------------------------------

template <class V, Like<BeadSection> T>
void describe(V& v, T& s) {
    v.number("resistance", s.resistance_ohm, mandatory(positive(ohms)));
    v.number("inductance", s.inductance_h, mandatory(positive(henries)));
}

template <class V, Like<Bead> T>
void describe(V& v, T& b) {
    v.text("name", b.name);
    v.number("dc_resistance", b.dc_resistance_ohm, ohms);
    v.number("capacitance", b.capacitance_f, farads);
    v.sections(b.sections);
    v.pairs("saturation", b.saturation, Dimension::current, Dimension::share);
}

template <class V, Like<GateDiode> T>
void describe(V& v, T& d) {
    v.choice("blocks", d.blocks, edge_names, is_mandatory);
    v.number("capacitance", d.capacitance_f, farads);
    v.number("on_resistance", d.on_resistance_ohm, ohms);
    v.number("resistor", d.resistor_ohm, ohms);
}

template <class V, Like<GatePath> T>
void describe(V& v, T& p) {
    v.edges("resistor", p.resistor_ohm);
    v.block("diode", p.diode);
    v.block("bead", p.bead);
    v.number("inductance", p.inductance_h, henries);
}

template <class V, Like<KelvinPath> T>
void describe(V& v, T& p) {
    v.number("resistor", p.resistor_ohm, ohms);
    v.block("bead", p.bead);
    v.number("inductance", p.inductance_h, henries);
}

template <class V, Like<PowerPath> T>
void describe(V& v, T& p) {
    v.number("resistance", p.resistance_ohm, ohms);
    v.number("inductance", p.inductance_h, henries);
}

template <class V, Like<SeriesRlc> T>
void describe(V& v, T& b) {
    v.number("capacitance", b.capacitance_f, mandatory(farads));
    v.number("resistance", b.resistance_ohm, ohms);
    v.number("inductance", b.inductance_h, henries);
}

/// A SeriesRlc without inductance: gate_drain and tab.
struct DescribeRc {
    template <class V, Like<SeriesRlc> T>
    void operator()(V& v, T& b) const {
        v.number("capacitance", b.capacitance_f, mandatory(farads));
        v.number("resistance", b.resistance_ohm, ohms);
    }
};

template <class V, Like<Capacitor> T>
void describe(V& v, T& c) {
    v.number("capacitance", c.capacitance_f, mandatory(farads));
    v.number("esr", c.esr_ohm, ohms);
    v.number("esl", c.esl_h, henries);
}

template <class V, Like<CommonModeChoke> T>
void describe(V& v, T& c) {
    v.number("inductance", c.inductance_h, mandatory(henries));
    v.number("leakage", c.leakage_h, henries);
    v.number("resistance", c.resistance_ohm, positive(ohms));
}

template <class V, Like<ComplementaryDevice> T>
void describe(V& v, T& c) {
    v.complementary_capacitance("capacitance", c);
    v.number("resistance", c.resistance_ohm, ohms);
    v.number("on_resistance", c.on_resistance_ohm, ohms);
}

template <class V, Like<Leg> T>
void describe(V& v, T& l) {
    v.number("inductance", l.inductance_h, henries);
    v.number("resistance", l.resistance_ohm, ohms);
    v.block("complementary", l.complementary);
    v.block("dc_link", l.dc_link);
}

template <class V, Like<Position> T>
void describe(V& v, T& p) {
    v.block("device", p.device, is_mandatory);
    v.block("gate_path", p.gate_path);
    v.block("kelvin_path", p.kelvin_path);
    v.block("drain_path", p.drain_path);
    v.block("source_path", p.source_path);
    v.block("snubber", p.snubber);
    v.block("gate_shunt", p.gate_shunt);
    v.block("gate_drain", p.gate_drain, !is_mandatory, DescribeRc{});
    v.block("tab", p.tab, !is_mandatory, DescribeRc{});
    v.block("common_mode_choke", p.common_mode_choke);
    v.block("leg", p.leg);
    v.number("junction_temperature", p.junction_temperature_degc, degrees_celsius);
}

// ---- what is shared -------------------------------------------------------------------------------------

template <class V, Like<Bus> T>
void describe(V& v, T& b) {
    v.segments("inductance", b.inductance_h, Dimension::inductance);
    v.segments("resistance", b.resistance_ohm, Dimension::resistance);
    v.integer("feed_at", b.feed_at);
}

/// `buses`: one entry for each rail that is not a star.
struct DescribeBuses {
    template <class V, Like<Buses> T>
    void operator()(V& v, T& buses) const {
        for (size_t rail = 0; rail < rail_names.size(); ++rail) v.block(rail_names[rail], buses[rail]);
    }
};

template <class V, Like<Driver> T>
void describe(V& v, T& d) {
    v.number("pull_up_resistance", d.pull_up_resistance_ohm, mandatory(ohms));
    v.number("pull_down_resistance", d.pull_down_resistance_ohm, mandatory(ohms));
    v.number("inductance", d.inductance_h, henries);
    v.number("return_inductance", d.return_inductance_h, henries);
    v.block("bypass", d.bypass);
    v.block("turn_off_bypass", d.turn_off_bypass);
    v.choice("per_position", d.per_position, sharing_names, !is_mandatory);
    v.number("barrier_capacitance", d.barrier_capacitance_f, farads);
    v.number("barrier_resistance", d.barrier_resistance_ohm, ohms);
    v.choice("return_to", d.return_to, return_names, !is_mandatory);
}

template <class V, Like<Load> T>
void describe(V& v, T& l) {
    v.number("inductance", l.inductance_h, henries);
    v.number("capacitance", l.capacitance_f, farads);
    v.number("resistance", l.resistance_ohm, ohms);
}

template <class V, Like<PowerLoop> T>
void describe(V& v, T& p) {
    v.number("inductance", p.inductance_h, mandatory(henries));
    v.number("resistance", p.resistance_ohm, ohms);
    v.block("complementary", p.complementary, is_mandatory);
    v.block("dc_link", p.dc_link);
    v.block("load", p.load);
}

// ---- where it operates, what is required -----------------------------------------------------------------

template <class V, Like<Drive> T>
void describe(V& v, T& d) {
    v.number("high", d.high_v, mandatory(any_sign(volts)));
    v.number("low", d.low_v, any_sign(volts));
    v.number("rise", d.rise_s, seconds);
    v.number("fall", d.fall_s, seconds);
}

template <class V, Like<SoftTurnOff> T>
void describe(V& v, T& s) {
    v.number("ramp", s.ramp_s, mandatory(positive(seconds)));
    v.number("current", s.current_a, positive(amperes));
}

template <class V, Like<Path> T>
void describe(V& v, T& p) {
    v.integer("steps", p.steps);
    v.number("peak_current", p.peak_current_a, positive(amperes));
    v.boolean("plateau", p.plateau);
    v.durations("durations", p.durations_s);
}

/// The keys of a point but `device` and `devices`.
template <class V, Like<Point> T>
void describe(V& v, T& p) {
    v.text("name", p.name);
    v.choice("edge", p.edge, edge_names, is_mandatory);
    v.number("vds", p.vds_v, mandatory(any_sign(volts)));
    v.number("current", p.current_a, mandatory(any_sign(amperes)));
    v.choice("complementary", p.complementary, complementary_names, is_mandatory);
    v.number("gate_current", p.gate_current_a, amperes);
}

/// The keys of `operation` but `points`.
template <class V, Like<Operation> T>
void describe(V& v, T& o) {
    v.number("bus_voltage", o.bus_voltage_v, positive(volts));
    v.number("load_current", o.load_current_a, positive(amperes));
    v.block("drive", o.drive);
    v.block("soft_turn_off", o.soft_turn_off);
    v.temperatures("junction_temperature", o.junction_temperatures_degc);
    v.block("path", o.path);
}

template <class V, Like<Requirement> T>
void describe(V& v, T& r) {
    v.number("differential_damping", r.differential_damping, mandatory(positive(fraction)));
    v.number("common_damping", r.common_damping, fraction);
    v.limits("band", r.band_low_hz, r.band_high_hz, Dimension::frequency);
    v.number("gate_resistance_limit", r.gate_resistance_limit_ohm, positive(ohms));
    v.number("worst_damping", r.worst_damping, fraction);
    v.number("passing_growth", r.passing_growth, positive(plain));
    v.texts("judge_held", r.judge_held);
    v.number("pass_share", r.pass_share, positive(fraction));
    v.number("passive_damping", r.passive_damping, fraction);
    v.number("gain_margin", r.gain_margin, positive(plain));
}

}  // namespace ringquell::internal
