// Random cases from a seed: every element of the model, zero values, absent blocks. The same on every
// machine.
#pragma once

#include <cmath>
#include <cstdint>
#include <map>
#include <random>
#include <set>
#include <string>
#include <tuple>

#include "ringquell/case.h"
#include "ringquell/numbers.h"
#include "ringquell/quantity.h"
#include "ringquell/read_case.h"
#include "ringquell/write_case.h"

namespace random_case {

struct Traits {
    int positions = 2;
    bool alike = true;
    bool gain = true;
};

class Generator {
  public:
    explicit Generator(std::uint64_t seed) : random_(seed), later_(seed ^ 0x9e3779b97f4a7c15u) {}

    double uniform() { return static_cast<double>(random_() >> 11) * 0x1p-53; }
    bool chance(double share) { return uniform() < share; }
    int whole(int low, int high) { return low + static_cast<int>(uniform() * (high - low + 1)); }
    /// Even in the logarithm.
    double between(double low, double high) { return low * std::pow(high / low, uniform()); }
    double or_zero(double low, double high, double zero = 0.2) {
        const double value = between(low, high);
        return chance(zero) ? 0 : value;
    }

    /// Written and read again, so that the reader has its part in it.
    ringquell::Case make(const Traits& traits) {
        return ringquell::read_case_text(ringquell::write_case(raw(traits)), "random.yaml");
    }

    ringquell::Case raw(const Traits& traits) {
        ringquell::Case c;
        gain_ = traits.gain;
        const ringquell::Position base =
            position(chance(0.3) ? ringquell::DeviceKind::cascode : ringquell::DeviceKind::mosfet);
        c.positions.assign(static_cast<size_t>(traits.positions), base);
        if (!traits.alike) {
            vary(c.positions);
            for (auto& bus : c.buses)
                if (traits.positions > 1 && chance(0.4)) bus = this->bus(traits.positions);
        }
        c.driver = driver();
        c.power_loop = power_loop();
        add_couplings(c, traits);
        c.operation.path.reset();
        c.operation.points = {
            point("blocking", ringquell::Edge::turn_on, ringquell::Complementary::blocking),
            point("conducting", ringquell::Edge::turn_off, ringquell::Complementary::conducting)};
        c.require.differential_damping = 0.1;
        c.require.band_high_hz = 1e9;
        add_later(c, traits);
        return c;
    }

  private:
    ringquell::Die die() {
        ringquell::Die out;
        out.channel = ringquell::FixedChannel{gain_ && chance(0.9) ? between(1, 80) : 0, or_zero(1e-3, 1)};
        out.capacitance = ringquell::FixedCapacitance{or_zero(0.5e-9, 4e-9, 0.05), or_zero(5e-12, 2e-10, 0.1),
                                                      or_zero(5e-11, 1e-9, 0.1)};
        out.output_resistance_ohm = or_zero(0.1, 2, 0.5);
        return out;
    }
    ringquell::Device device(ringquell::DeviceKind kind) {
        ringquell::Device out;
        out.kind = kind;
        out.gate_resistance.value_ohm = or_zero(0.3, 3);
        out.package = {or_zero(1e-9, 6e-9), or_zero(0.5e-9, 4e-9), or_zero(0.5e-9, 4e-9), {}};
        if (chance(0.75)) out.package.kelvin_h = or_zero(1e-9, 5e-9);
        out.mosfet = die();
        if (kind == ringquell::DeviceKind::cascode) {
            out.jfet = die();
            out.jfet_gate_resistance.value_ohm = or_zero(0.5, 3, 0.1);
            out.bonds = {
                or_zero(0.2e-9, 1e-9), or_zero(0.2e-9, 1e-9),
                chance(0.3) ? ringquell::JfetGateTo::source_pin : ringquell::JfetGateTo::mosfet_source};
        }
        return out;
    }
    ringquell::Bead bead() {
        ringquell::Bead out;
        out.dc_resistance_ohm = or_zero(5e-3, 0.2);
        out.capacitance_f = or_zero(0.3e-12, 3e-12, 0.4);
        for (int k = whole(1, 2); k > 0; --k) out.sections.push_back({between(5, 100), between(20e-9, 1e-6)});
        return out;
    }
    ringquell::SeriesRlc rlc(double low_f, double high_f, bool inductive) {
        return {or_zero(low_f, high_f, 0.1), or_zero(0.5, 10), inductive ? or_zero(0.5e-9, 4e-9) : 0};
    }
    ringquell::ComplementaryDevice complementary() {
        return {or_zero(50e-12, 500e-12, 0.1), {}, or_zero(0.05, 1), or_zero(5e-3, 50e-3)};
    }
    ringquell::Capacitor capacitor(double low_f, double high_f) {
        return {between(low_f, high_f), or_zero(1e-3, 20e-3), or_zero(0.3e-9, 8e-9)};
    }
    ringquell::Position position(ringquell::DeviceKind kind) {
        ringquell::Position p;
        p.device = device(kind);
        p.gate_path.resistor_ohm = {or_zero(1, 15), or_zero(1, 15)};
        if (chance(0.3))
            p.gate_path.diode =
                ringquell::GateDiode{chance(0.5) ? ringquell::Edge::turn_on : ringquell::Edge::turn_off,
                                     or_zero(10e-12, 200e-12), or_zero(0.1, 1), or_zero(0.5, 5)};
        if (chance(0.4)) p.gate_path.bead = bead();
        p.gate_path.inductance_h = or_zero(3e-9, 20e-9);
        p.kelvin_path->resistor_ohm = or_zero(0.1, 2, 0.5);
        if (chance(0.2)) p.kelvin_path->bead = bead();
        p.kelvin_path->inductance_h = or_zero(2e-9, 10e-9);
        p.drain_path = {or_zero(0.2e-3, 2e-3), or_zero(1e-9, 8e-9)};
        p.source_path = {or_zero(0.2e-3, 2e-3), or_zero(0.5e-9, 6e-9)};
        if (chance(0.3)) p.snubber = rlc(50e-12, 1e-9, true);
        if (chance(0.3)) p.gate_shunt = rlc(0.2e-9, 2e-9, true);
        if (chance(0.3)) p.gate_drain = rlc(1e-12, 5e-12, false);
        if (chance(0.3)) p.tab = rlc(10e-12, 80e-12, false);
        if (chance(0.3)) {
            const double inductance = or_zero(50e-9, 2e-6, 0.1);
            p.common_mode_choke = ringquell::CommonModeChoke{
                inductance, chance(0.3) ? 0 : inductance * between(0.005, 0.2), {}};
            if (chance(0.6)) p.common_mode_choke->resistance_ohm = between(20, 500);
        }
        if (chance(0.25)) {
            p.leg = ringquell::Leg{or_zero(3e-9, 20e-9), 0, complementary(), {}};
            if (chance(0.6)) p.leg->dc_link = capacitor(0.1e-6, 1e-6);
        }
        return p;
    }
    /// What overrides may do: other values; a block of another position's size.
    void vary(std::vector<ringquell::Position>& positions) {
        for (size_t k = 1; k < positions.size(); ++k) {
            if (chance(0.3)) continue;
            ringquell::Position& p = positions[k];
            const auto other = [&](double& value) {
                if (value != 0 && chance(0.5)) value = or_zero(0.7 * value, 1.5 * value, 0.1);
            };
            other(p.gate_path.inductance_h);
            other(p.gate_path.resistor_ohm.turn_on);
            other(p.source_path.inductance_h);
            other(p.drain_path.inductance_h);
            other(p.kelvin_path->inductance_h);
            if (p.snubber) other(p.snubber->capacitance_f);
            if (p.gate_drain) other(p.gate_drain->capacitance_f);
            if (p.tab) other(p.tab->capacitance_f);
            if (p.leg) other(p.leg->inductance_h);
            if (p.gate_path.diode) other(p.gate_path.diode->resistor_ohm);
            if (!p.tab && chance(0.2)) p.tab = rlc(10e-12, 80e-12, false);
            if (!p.gate_shunt && chance(0.2)) p.gate_shunt = rlc(0.2e-9, 2e-9, true);
            if (gain_)
                if (auto* channel = std::get_if<ringquell::FixedChannel>(&p.device.mosfet.channel))
                    other(channel->transconductance_s);
        }
    }
    ringquell::Bus bus(int positions) {
        ringquell::Bus out;
        for (int k = 1; k < positions; ++k) {
            out.inductance_h.push_back(or_zero(0.2e-9, 3e-9));
            out.resistance_ohm.push_back(or_zero(0.05e-3, 1e-3));
        }
        out.feed_at = whole(1, positions);
        return out;
    }
    ringquell::Driver driver() {
        ringquell::Driver out;
        out.pull_up_resistance_ohm = or_zero(0.2, 2);
        out.pull_down_resistance_ohm = or_zero(0.2, 2);
        out.inductance_h = or_zero(1e-9, 6e-9);
        out.return_inductance_h = or_zero(1e-9, 6e-9);
        if (chance(0.7)) out.bypass = capacitor(0.1e-6, 2e-6);
        if (chance(0.3)) out.turn_off_bypass = capacitor(0.1e-6, 2e-6);
        const double kind = uniform();
        if (kind > 0.5)
            out.per_position =
                kind > 0.75 ? ringquell::DriverSharing::isolated : ringquell::DriverSharing::buffer;
        if (out.per_position == ringquell::DriverSharing::isolated) {
            out.barrier_capacitance_f = or_zero(2e-12, 20e-12, 0.3);
            out.barrier_resistance_ohm = or_zero(1, 20);
        } else if (chance(0.2)) {
            out.return_to = ringquell::DriverReturn::source_rail;
        }
        return out;
    }
    ringquell::PowerLoop power_loop() {
        ringquell::PowerLoop out;
        out.inductance_h = or_zero(3e-9, 20e-9, 0.1);
        out.resistance_ohm = or_zero(1e-3, 10e-3);
        out.complementary = complementary();
        if (chance(0.7)) out.dc_link = capacitor(0.5e-6, 5e-6);
        if (chance(0.7)) {
            out.load = ringquell::Load{{}, or_zero(20e-12, 100e-12, 0.3), or_zero(0.5, 5)};
            if (chance(0.8)) out.load->inductance_h = between(50e-6, 500e-6);
        }
        return out;
    }
    void add_couplings(ringquell::Case& c, const Traits& traits) {
        const auto has = [&](double ringquell::PowerPath::*value,
                             ringquell::PowerPath ringquell::Position::*path) {
            for (const auto& p : c.positions)
                if ((p.*path).*value == 0) return false;
            return true;
        };
        const bool source = has(&ringquell::PowerPath::inductance_h, &ringquell::Position::source_path);
        const bool drain = has(&ringquell::PowerPath::inductance_h, &ringquell::Position::drain_path);
        bool gate = true;
        for (const auto& p : c.positions) gate = gate && p.gate_path.inductance_h != 0;
        // At most three couplings meet in one inductance and shared ones are weak, so that the matrix stays
        // diagonally dominant.
        const auto add = [&](const char* a, std::optional<int> i, const char* b, std::optional<int> j,
                             double most) {
            ringquell::Coupling coupling;
            coupling.first = {a, i};
            coupling.second = {b, j};
            coupling.coefficient = (chance(0.5) ? 1 : -1) * between(0.1 * most, most);
            c.couplings.push_back(coupling);
        };
        if (gate && source && chance(0.4)) add("gate_path", {}, "source_path", {}, 0.25);
        if (drain && source && chance(0.4)) add("drain_path", {}, "source_path", {}, 0.25);
        if (source && c.power_loop.inductance_h != 0 && chance(0.3))
            add("source_path", {}, "power_loop", {}, 0.2 / traits.positions);
        if (!traits.alike && gate && drain && traits.positions > 1 && chance(0.4))
            add("gate_path", whole(1, traits.positions - 1), "drain_path", traits.positions, 0.2);
    }
    ringquell::Point point(const char* name, ringquell::Edge edge, ringquell::Complementary complementary) {
        ringquell::Point out;
        out.name = name;
        out.edge = edge;
        out.vds_v = 400;
        out.current_a = 100;
        out.complementary = complementary;
        return out;
    }

    /// What the model gained later: drawn from numbers of its own, so that the rest of the case of a seed stays.
    void add_later(ringquell::Case& c, const Traits& traits) {
        std::swap(random_, later_);
        add_leads(c, traits);
        add_rail_coupling(c);
        std::swap(random_, later_);
    }
    void add_leads(ringquell::Case& c, const Traits& traits) {
        ringquell::Package leads;
        leads.gate_resistance_ohm = or_zero(1e-3, 0.1, 0.5);
        leads.drain_resistance_ohm = or_zero(0.1e-3, 5e-3, 0.5);
        leads.source_resistance_ohm = or_zero(0.1e-3, 5e-3, 0.5);
        leads.kelvin_resistance_ohm = or_zero(1e-3, 0.1, 0.5);
        const double leg_ohm = or_zero(1e-3, 20e-3, 0.5);
        const bool warm = chance(0.4);
        for (auto& p : c.positions) {
            auto& package = p.device.package;
            const auto own = [&](double value) { return !traits.alike && chance(0.2) ? 1.3 * value : value; };
            package.gate_resistance_ohm = own(leads.gate_resistance_ohm);
            package.drain_resistance_ohm = own(leads.drain_resistance_ohm);
            package.source_resistance_ohm = own(leads.source_resistance_ohm);
            package.kelvin_resistance_ohm = own(leads.kelvin_resistance_ohm);
            if (p.leg) p.leg->resistance_ohm = own(leg_ohm);
            if (!warm) continue;
            p.device.gate_resistance.per_kelvin = 0.003;
            if (!traits.alike && chance(0.4)) p.junction_temperature_degc = 25 + 125 * uniform();
        }
    }
    /// Segment k with segment k of two rails that have the same segments.
    void add_rail_coupling(ringquell::Case& c) {
        const auto segments = [&](ringquell::Rail rail) {
            std::string out;
            if (c.bus(rail))
                for (const double l : c.bus(rail)->inductance_h) out += l > 0 ? '1' : '0';
            return out;
        };
        for (const auto& [one, other, a, b] :
             {std::tuple{ringquell::Rail::drain, ringquell::Rail::source, "buses.drain", "buses.source"},
              std::tuple{ringquell::Rail::gate, ringquell::Rail::drain, "buses.gate", "buses.drain"}}) {
            const std::string found = segments(one);
            if (found.find('1') == std::string::npos || found != segments(other) || !chance(0.7)) continue;
            ringquell::Coupling coupling;
            coupling.first.name = a;
            coupling.second.name = b;
            coupling.coefficient = (chance(0.5) ? 1 : -1) * between(0.05, 0.4);
            c.couplings.push_back(coupling);
        }
    }

    std::mt19937_64 random_, later_;
    bool gain_ = true;
};

/// Every resistance × r, inductance × l, capacitance × c, conductance ÷ r, by the case's own keys, so that no
/// element can be forgotten. Couplings by coefficient stay, and what is asked.
inline ringquell::Case scaled(ringquell::Case in, double r, double l, double c) {
    using ringquell::Dimension;
    const std::map<Dimension, double> factors{{Dimension::resistance, r},
                                              {Dimension::inductance, l},
                                              {Dimension::capacitance, c},
                                              {Dimension::conductance, 1 / r}};
    std::set<double*> done;  // `gate_path.resistor` names what `gate_path.resistor.turn_on` names too
    for (const std::string& key : number_keys(in)) {
        const ringquell::Number number = find_number(in, key);
        const auto factor = factors.find(number.dimension);
        if (factor == factors.end() || key.starts_with("require.")) continue;
        for (double* value : number.values)
            if (done.insert(value).second) *value *= factor->second;
    }
    return in;
}

}  // namespace random_case
