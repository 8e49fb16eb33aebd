#include "ringquell/network.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "case/enum_names.h"
#include "network/builder.h"
#include "network/couplings.h"

namespace ringquell {

using namespace internal;

std::string Element::label() const {
    if (position == 0) return name;
    const size_t dot = name.find('.');
    if (dot == std::string::npos) return fmt::format("{}[{}]", name, position);
    return fmt::format("{}[{}]{}", name.substr(0, dot), position, name.substr(dot));
}

double internal::saturation_left(const Bead& bead, double gate_current_a) {
    const auto& saturation = bead.saturation;
    if (saturation.empty()) return 1;
    const auto above = std::find_if(saturation.begin(), saturation.end(),
                                    [&](const auto& p) { return p.first >= gate_current_a; });
    if (above == saturation.end()) return saturation.back().second;
    if (above == saturation.begin()) return above->second;
    const auto& [x1, y1] = *(above - 1);
    const auto& [x2, y2] = *above;
    return y1 + (y2 - y1) * (gate_current_a - x1) / (x2 - x1);
}

namespace {

Eigen::SparseMatrix<double> assemble(const Network& network, bool want_e) {
    std::vector<Eigen::Triplet<double>> entries;
    if (!want_e) entries = network.constant;
    for (const Element& element : network.elements) {
        if (element.in_e() != want_e) continue;
        const double value = want_e ? element.value : -element.value;
        for (const auto& [i, a] : element.left)
            for (const auto& [j, b] : element.right) {
                entries.emplace_back(i, j, value * a * b);
                if (element.kind == ElementKind::mutual) entries.emplace_back(j, i, value * a * b);
            }
    }
    Eigen::SparseMatrix<double> out(network.size(), network.size());
    out.setFromTriplets(entries.begin(), entries.end());
    return out;
}

}  // namespace

Eigen::SparseMatrix<double> Network::e() const {
    return assemble(*this, true);
}
Eigen::SparseMatrix<double> Network::a() const {
    return assemble(*this, false);
}

bool positions_alike(const Case& input, const OperatingPoint& point) {
    if (point.devices.size() > 1) return false;
    const auto& first = input.positions.front();
    for (const Position& position : input.positions)
        if (!(position == first)) return false;
    if (input.n() > 1)
        for (const auto& bus : input.buses) {
            if (!bus) continue;
            const auto is_zero = [](double x) { return x == 0; };
            if (!std::all_of(bus->inductance_h.begin(), bus->inductance_h.end(), is_zero)) return false;
            if (!std::all_of(bus->resistance_ohm.begin(), bus->resistance_ohm.end(), is_zero)) return false;
        }
    return std::none_of(input.couplings.begin(), input.couplings.end(),
                        [](const Coupling& c) { return c.first.index || c.second.index; });
}

std::string gate_resistor_element(const Case& input, Edge edge, int position) {
    const auto& diode = input.positions[static_cast<size_t>(position)].gate_path.diode;
    return diode && diode->blocks != edge ? "gate_path.diode.resistor" : "gate_path.resistor";
}

namespace {

// ---- the table of branches: what docs/model.md lists, in the same order
// ------------------------------------

/// The nodes of a position that shared parts may hold, and which of them are merged.
struct PositionNodes {
    int number;  // from 1, in names
    int gate_tap, kelvin_tap, drain_tap, source_tap;
    int drain_feed, source_feed;
    int tab;
};

std::vector<Part> bead_parts(const std::string& key, const std::optional<Bead>& bead, double gate_current_a) {
    if (!bead) return {};
    const double left = saturation_left(*bead, gate_current_a);
    std::vector<Part> sections;
    for (size_t k = 0; k < bead->sections.size(); ++k) {
        const std::string name =
            bead->sections.size() == 1 ? key : fmt::format("{}.sections[{}]", key, k + 1);
        sections.push_back(
            parallel({{resistance(name + ".resistance", left * bead->sections[k].resistance_ohm)},
                      {inductance(name + ".inductance", left * bead->sections[k].inductance_h)}}));
    }
    std::vector<Part> out{resistance(key + ".dc_resistance", bead->dc_resistance_ohm)};
    if (bead->capacitance_f == 0)
        out.insert(out.end(), sections.begin(), sections.end());
    else
        out.push_back(parallel({sections, {capacitance(key + ".capacitance", bead->capacitance_f)}}));
    return out;
}

std::vector<Part> gate_resistor_parts(const GatePath& path, Edge edge, bool keep) {
    Part resistor = resistance("gate_path.resistor", path.resistor_ohm.of(edge));
    if (!path.diode) {
        resistor.keep = keep;
        return {resistor};
    }
    const GateDiode& diode = *path.diode;
    Part diode_resistor = resistance("gate_path.diode.resistor", diode.resistor_ohm);
    if (diode.blocks == edge) {
        resistor.keep = keep;
        return {parallel(
            {{resistor}, {diode_resistor, capacitance("gate_path.diode.capacitance", diode.capacitance_f)}})};
    }
    diode_resistor.keep = keep;
    return {
        parallel({{resistor},
                  {diode_resistor, resistance("gate_path.diode.on_resistance", diode.on_resistance_ohm)}})};
}

std::vector<Part> rlc_parts(const std::string& key, const SeriesRlc& rlc) {
    return {capacitance(key + ".capacitance", rlc.capacitance_f),
            resistance(key + ".resistance", rlc.resistance_ohm),
            inductance(key + ".inductance", rlc.inductance_h)};
}

std::vector<Part> capacitor_parts(const std::string& key, const std::optional<Capacitor>& c) {
    if (!c) return {};  // an ideal supply
    return {capacitance(key + ".capacitance", c->capacitance_f), resistance(key + ".esr", c->esr_ohm),
            inductance(key + ".esl", c->esl_h)};
}

std::vector<Part> complementary_parts(const std::string& key, const ComplementaryDevice& device,
                                      const OperatingPoint& point, double capacitance_f) {
    if (point.complementary == Complementary::conducting)
        return {resistance(key + ".on_resistance", device.on_resistance_ohm)};
    return {capacitance(key + ".capacitance", capacitance_f),
            resistance(key + ".resistance", device.resistance_ohm)};
}

std::vector<Part> joined(std::vector<Part> a, const std::vector<Part>& b) {
    a.insert(a.end(), b.begin(), b.end());
    return a;
}

/// A die between gate, drain and source. `lossy_drain_gate`: the output resistance stands beside cgd, not
/// cds.
void add_die(NetworkBuilder& builder, const std::string& key, int position, const DieValues& v, int gate,
             int drain, int source, bool lossy_drain_gate) {
    const std::string cap = key + ".capacitance";
    const Part output = resistance(cap + ".output_resistance", v.output_resistance_ohm);
    const Part cgd = capacitance(cap + ".cgd", v.cgd_f), cds = capacitance(cap + ".cds", v.cds_f);
    builder.series(cap + ".cgs", position, gate, source, {capacitance(cap + ".cgs", v.cgs_f)});
    builder.series(cap + ".cgd", position, gate, drain,
                   lossy_drain_gate ? std::vector{cgd, output} : std::vector{cgd});
    builder.series(cap + ".cds", position, drain, source,
                   lossy_drain_gate ? std::vector{cds} : std::vector{cds, output});
    builder.transconductance(key + ".channel.transconductance", position, drain, source, gate, source,
                             v.transconductance_s);
    builder.conductance(key + ".channel.output_conductance", position, drain, source, v.output_conductance_s);
}

void add_position(NetworkBuilder& builder, const OperatingPoint& point, const Position& p,
                  const DeviceValues& v, const PositionNodes& at, bool keep_gate_resistor) {
    const int k = at.number;
    const auto node = [&](const char* name) { return builder.node(fmt::format("{}[{}]", name, k)); };
    const int gate = node("gate"), drain = node("drain"), source = node("source");
    const int gate_pin = node("gate pin"), drain_pin = node("drain pin"), source_pin = node("source pin");
    const int kelvin_pin = p.device.package.kelvin_h ? node("Kelvin pin") : source_pin;

    std::vector<Part> gate_path = gate_resistor_parts(p.gate_path, point.edge, keep_gate_resistor);
    gate_path = joined(gate_path, bead_parts("gate_path.bead", p.gate_path.bead, point.gate_current_a));
    gate_path.push_back(inductance("gate_path.inductance", p.gate_path.inductance_h));
    std::vector<Part> kelvin_path{resistance("kelvin_path.resistor", p.kelvin().resistor_ohm),
                                  inductance("kelvin_path.inductance", p.kelvin().inductance_h)};
    kelvin_path = joined(kelvin_path, bead_parts("kelvin_path.bead", p.kelvin().bead, point.gate_current_a));
    if (const auto& choke = p.common_mode_choke; choke && choke->inductance_h != 0) {
        if (choke->leakage_h >= 4 * choke->inductance_h)
            throw InputError(
                {}, fmt::format("common_mode_choke[{}].leakage", k),
                fmt::format("found {:.4g} H, which two windings of {:.4g} H cannot have; expected less than "
                            "four times the inductance (a few per cent is usual)",
                            choke->leakage_h, choke->inductance_h));
        const auto side = [&](const std::string& name) {
            std::vector<std::vector<Part>> branches{{winding(name)}};
            if (choke->resistance_ohm)
                branches.push_back({resistance("common_mode_choke.resistance", *choke->resistance_ohm)});
            return parallel(std::move(branches));
        };
        gate_path.push_back(side("common_mode_choke.gate"));
        kelvin_path.push_back(side("common_mode_choke.kelvin"));
        builder.choke(k, choke->inductance_h, choke->leakage_h);
    }
    builder.series("gate_path", k, at.gate_tap, gate_pin, gate_path);
    builder.series("device.package.gate", k, gate_pin, gate,
                   {inductance("device.package.gate", p.device.package.gate_h),
                    resistance("device.gate_resistance", v.gate_resistance_ohm)});
    builder.series("device.package.drain", k, drain_pin, drain,
                   {inductance("device.package.drain", p.device.package.drain_h)});
    builder.series("device.package.source", k, source, source_pin,
                   {inductance("device.package.source", p.device.package.source_h)});
    if (p.device.package.kelvin_h)
        builder.series("device.package.kelvin", k, source, kelvin_pin,
                       {inductance("device.package.kelvin", *p.device.package.kelvin_h)});
    builder.series("drain_path", k, at.drain_tap, drain_pin,
                   {resistance("drain_path.resistance", p.drain_path.resistance_ohm),
                    inductance("drain_path.inductance", p.drain_path.inductance_h)});
    builder.series("source_path", k, source_pin, at.source_tap,
                   {inductance("source_path.inductance", p.source_path.inductance_h),
                    resistance("source_path.resistance", p.source_path.resistance_ohm)});
    if (p.kelvin_path) builder.series("kelvin_path", k, kelvin_pin, at.kelvin_tap, kelvin_path);
    if (p.snubber) builder.series("snubber", k, drain_pin, source_pin, rlc_parts("snubber", *p.snubber));
    if (p.gate_shunt)
        builder.series("gate_shunt", k, gate_pin, kelvin_pin, rlc_parts("gate_shunt", *p.gate_shunt));
    if (p.gate_drain)
        builder.series("gate_drain", k, gate_pin, drain_pin, rlc_parts("gate_drain", *p.gate_drain));
    if (p.tab) builder.series("tab", k, drain, at.tab, rlc_parts("tab", *p.tab));
    if (p.leg) {
        std::vector<Part> leg{inductance("leg.inductance", p.leg->inductance_h)};
        leg = joined(leg, complementary_parts("leg.complementary", p.leg->complementary, point,
                                              point.leg_capacitance_f.empty()
                                                  ? p.leg->complementary.capacitance_f
                                                  : point.leg_capacitance_f[static_cast<size_t>(k) - 1]));
        builder.series("leg", k, drain_pin, source_pin,
                       joined(leg, capacitor_parts("leg.dc_link", p.leg->dc_link)));
    }
    if (p.device.kind == DeviceKind::mosfet) {
        add_die(builder, "device", k, v.mosfet, gate, drain, source, false);
        return;
    }
    const int mid = node("mid"), jfet_source = node("JFET source"), jfet_gate = node("JFET gate");
    add_die(builder, "device.mosfet", k, v.mosfet, gate, mid, source, false);
    builder.series("device.bonds.mid", k, mid, jfet_source,
                   {inductance("device.bonds.mid", p.device.bonds.mid_h)});
    add_die(builder, "device.jfet", k, v.jfet, jfet_gate, drain, jfet_source, true);
    const int end = p.device.bonds.jfet_gate_to == JfetGateTo::source_pin ? source_pin : source;
    builder.series("device.bonds.jfet_gate", k, jfet_gate, end,
                   {resistance("device.jfet.gate_resistance", v.jfet_gate_resistance_ohm),
                    inductance("device.bonds.jfet_gate", p.device.bonds.jfet_gate_h)});
}

/// A driver's output: its inductance, its resistance and its supply.
std::vector<Part> driver_parts(const Driver& driver, Edge edge) {
    const bool on = edge == Edge::turn_on;
    const std::vector<Part> parts{
        inductance("driver.inductance", driver.inductance_h),
        on ? resistance("driver.pull_up_resistance", driver.pull_up_resistance_ohm)
           : resistance("driver.pull_down_resistance", driver.pull_down_resistance_ohm)};
    return joined(parts, capacitor_parts(on ? "driver.bypass" : "driver.turn_off_bypass",
                                         on ? driver.bypass : driver.turn_off_bypass));
}

/// A driver between gate side and return. `position` 0: the shared one.
void add_driver(NetworkBuilder& builder, const Driver& driver, Edge edge, int position, int gate, int back,
                double scale) {
    builder.series("driver", position, gate, back,
                   joined(driver_parts(driver, edge),
                          {inductance("driver.return_inductance", driver.return_inductance_h)}),
                   scale);
}

/// The driver of one position alone: back to the position's own Kelvin tap, or to the source rail. The
/// barrier of an isolated one hangs at its ground, which lies between its supply and its return inductance.
void add_own_driver(NetworkBuilder& builder, const Driver& driver, Edge edge, const PositionNodes& at) {
    const bool isolated = driver.per_position == DriverSharing::isolated;
    const bool to_source = !isolated && driver.return_to == DriverReturn::source_rail;
    const int back = to_source ? at.source_feed : at.kelvin_tap;
    if (!isolated || driver.barrier_capacitance_f == 0)
        return add_driver(builder, driver, edge, at.number, at.gate_tap, back, 1);
    const int ground = builder.node(fmt::format("driver ground[{}]", at.number));
    builder.series("driver", at.number, at.gate_tap, ground, driver_parts(driver, edge));
    builder.series("driver", at.number, ground, back,
                   {inductance("driver.return_inductance", driver.return_inductance_h)});
    builder.series("driver.barrier", at.number, ground, at.source_feed,
                   {capacitance("driver.barrier_capacitance", driver.barrier_capacitance_f),
                    resistance("driver.barrier_resistance", driver.barrier_resistance_ohm)});
}

void add_power_loop(NetworkBuilder& builder, const PowerLoop& loop, const OperatingPoint& point,
                    int drain_feed, int source_feed, double scale) {
    std::vector<Part> parts{inductance("power_loop.inductance", loop.inductance_h),
                            resistance("power_loop.resistance", loop.resistance_ohm)};
    parts = joined(parts, complementary_parts("power_loop.complementary", loop.complementary, point,
                                              point.complementary_capacitance_f));
    builder.series("power_loop", 0, drain_feed, source_feed,
                   joined(parts, capacitor_parts("power_loop.dc_link", loop.dc_link)), scale);
    if (!loop.load) return;
    if (loop.load->inductance_h)
        builder.series("power_loop.load", 0, drain_feed, source_feed,
                       {inductance("power_loop.load.inductance", *loop.load->inductance_h)}, scale);
    builder.series("power_loop.load", 0, drain_feed, source_feed,
                   {capacitance("power_loop.load.capacitance", loop.load->capacitance_f),
                    resistance("power_loop.load.resistance", loop.load->resistance_ohm)},
                   scale);
}

/// The rails of a network: the tap of every position on each, and its feed.
struct Rails {
    std::array<std::vector<int>, 4> taps;
    std::array<int, 4> feed{};  // -1 where the rail does not exist
    int feed_of(Rail r) const { return feed[static_cast<size_t>(r)]; }
};

/// Does the rail join the positions? Where every position has its own driver there is no gate rail, where
/// that is isolated no Kelvin rail either, nor where no position has a Kelvin path.
bool rail_exists(const Case& input, Rail rail) {
    if (rail == Rail::gate) return input.driver.per_position == DriverSharing::shared;
    if (rail != Rail::kelvin) return true;
    return input.driver.per_position != DriverSharing::isolated &&
           std::any_of(input.positions.begin(), input.positions.end(),
                       [](const Position& p) { return p.kelvin_path.has_value(); });
}

/// A star is one node; a bus is a row of taps.
Rails add_rails(NetworkBuilder& builder, const Case& input, int built, bool whole) {
    Rails out;
    for (size_t r = 0; r < 4; ++r) {
        const bool exists = rail_exists(input, static_cast<Rail>(r));
        const std::string name = fmt::format("{} rail", rail_names[r]);
        const bool bus = exists && whole && input.buses[r].has_value();
        for (int k = 1; k <= built; ++k)
            out.taps[r].push_back(
                builder.node(!exists || bus ? fmt::format("{} tap[{}]", rail_names[r], k) : name));
        out.feed[r] = exists ? (bus ? builder.node(name) : out.taps[r][0]) : -1;
        if (!bus) continue;
        builder.wire(out.feed[r], out.taps[r][static_cast<size_t>(input.buses[r]->feed_at - 1)]);
        for (int k = 1; k < built; ++k) {
            const std::string segment = fmt::format("buses.{}[{}]", rail_names[r], k);
            builder.series(segment, 0, out.taps[r][static_cast<size_t>(k - 1)],
                           out.taps[r][static_cast<size_t>(k)],
                           {inductance(segment + ".inductance",
                                       input.buses[r]->inductance_h[static_cast<size_t>(k - 1)]),
                            resistance(segment + ".resistance",
                                       input.buses[r]->resistance_ohm[static_cast<size_t>(k - 1)])});
        }
    }
    return out;
}

}  // namespace

Network build_network(const Case& input, const OperatingPoint& point, const NetworkOptions& options) {
    const Driver& driver = input.driver;
    const bool own_drivers = driver.per_position != DriverSharing::shared;
    const bool has_kelvin_rail = rail_exists(input, Rail::kelvin);
    NetworkBuilder builder(has_kelvin_rail ? "kelvin rail" : "source rail");
    const int built = options.block == Block::whole ? input.n() : 1;
    const double scale = options.block == Block::common ? input.n() : 1;
    const Rails rails = add_rails(builder, input, built, options.block == Block::whole);
    const int drain_feed = rails.feed_of(Rail::drain), source_feed = rails.feed_of(Rail::source);
    const int tab = builder.node("tab");
    if (options.block ==
        Block::differential) {  // the rails, where they exist, and the tab are virtual shorts
        for (int f : rails.feed)
            if (f >= 0) builder.wire(f, rails.feed_of(has_kelvin_rail ? Rail::kelvin : Rail::source));
        builder.wire(tab, source_feed);
    }
    for (int k = 1; k <= built; ++k) {
        const auto i = static_cast<size_t>(k - 1);
        const PositionNodes nodes{k,
                                  rails.taps[0][i],
                                  rails.taps[1][i],
                                  rails.taps[2][i],
                                  rails.taps[3][i],
                                  drain_feed,
                                  source_feed,
                                  tab};
        add_position(builder, point, input.positions[i], point.device(k - 1), nodes,
                     options.keep_gate_resistor);
        if (own_drivers) add_own_driver(builder, driver, point.edge, nodes);
    }
    if (options.block != Block::differential) {
        if (!own_drivers)
            add_driver(
                builder, driver, point.edge, 0, rails.feed_of(Rail::gate),
                driver.return_to == DriverReturn::source_rail ? source_feed : rails.feed_of(Rail::kelvin),
                scale);
        add_power_loop(builder, input.power_loop, point, drain_feed, source_feed, scale);
    }
    Network network = builder.finish(options.describe);
    add_couplings(network, input);
    return network;
}

}  // namespace ringquell
