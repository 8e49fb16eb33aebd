#include "ringquell/network.h"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <numeric>

#include "network_builder.h"

namespace ringquell {

std::string Element::label() const {
    if (position == 0) return name;
    const size_t dot = name.find('.');
    if (dot == std::string::npos) return fmt::format("{}[{}]", name, position);
    return fmt::format("{}[{}]{}", name.substr(0, dot), position, name.substr(dot));
}

double saturation_left(const Bead& bead, double gate_current_a) {
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

void add_position(NetworkBuilder& builder, const Case& input, const OperatingPoint& point, const Position& p,
                  const DeviceValues& v, const PositionNodes& at, bool keep_gate_resistor) {
    const int k = at.number;
    const auto node = [&](const char* name) { return builder.node(fmt::format("{}[{}]", name, k)); };
    const int gate = node("gate"), drain = node("drain"), source = node("source");
    const int gate_pin = node("gate pin"), drain_pin = node("drain pin"), source_pin = node("source pin");
    const int kelvin_pin = p.device.package.kelvin_h ? node("Kelvin pin") : source_pin;

    std::vector<Part> gate_path = gate_resistor_parts(p.gate_path, point.edge, keep_gate_resistor);
    gate_path = joined(gate_path, bead_parts("gate_path.bead", p.gate_path.bead, point.gate_current_a));
    gate_path.push_back(inductance("gate_path.inductance", p.gate_path.inductance_h));
    std::vector<Part> kelvin_path{resistance("kelvin_path.resistor", p.kelvin_path.resistor_ohm),
                                  inductance("kelvin_path.inductance", p.kelvin_path.inductance_h)};
    kelvin_path =
        joined(kelvin_path, bead_parts("kelvin_path.bead", p.kelvin_path.bead, point.gate_current_a));
    if (const auto& choke = p.common_mode_choke; choke && choke->inductance_h != 0) {
        if (choke->leakage_h > 4 * choke->inductance_h)
            throw InputError(
                {}, fmt::format("common_mode_choke[{}].leakage", k),
                fmt::format("found {:.4g} H, which two windings of {:.4g} H cannot have; expected at most "
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
    builder.series("kelvin_path", k, kelvin_pin, at.kelvin_tap, kelvin_path);
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
    const Driver& driver = input.driver;
    if (driver.per_position == DriverSharing::isolated && driver.barrier_capacitance_f != 0)
        builder.series("driver.barrier", k, at.kelvin_tap, at.source_feed,
                       {capacitance("driver.barrier_capacitance", driver.barrier_capacitance_f),
                        resistance("driver.barrier_resistance", driver.barrier_resistance_ohm)});

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

/// Supply, output resistance and inductances of a driver between gate side and return. `position` 0: the
/// shared one.
void add_driver(NetworkBuilder& builder, const Driver& driver, Edge edge, int position, int gate, int back,
                double scale) {
    const bool on = edge == Edge::turn_on;
    std::vector<Part> parts{inductance("driver.inductance", driver.inductance_h),
                            on ? resistance("driver.pull_up_resistance", driver.pull_up_resistance_ohm)
                               : resistance("driver.pull_down_resistance", driver.pull_down_resistance_ohm),
                            inductance("driver.return_inductance", driver.return_inductance_h)};
    parts = joined(parts, capacitor_parts(on ? "driver.bypass" : "driver.turn_off_bypass",
                                          on ? driver.bypass : driver.turn_off_bypass));
    builder.series("driver", position, gate, back, parts, scale);
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

// ---- couplings -----------------------------------------------------------------------------------------

/// The element that carries the inductance a coupling names, "" where the name is not an inductance's.
std::string inductance_element(const std::string& name) {
    static const std::map<std::string, std::string> table{
        {"driver", "driver.inductance"},
        {"driver.return", "driver.return_inductance"},
        {"driver.bypass", "driver.bypass.esl"},
        {"driver.turn_off_bypass", "driver.turn_off_bypass.esl"},
        {"power_loop", "power_loop.inductance"},
        {"dc_link", "power_loop.dc_link.esl"},
        {"load", "power_loop.load.inductance"},
        {"leg.dc_link", "leg.dc_link.esl"},
        {"package.gate", "device.package.gate"},
        {"package.drain", "device.package.drain"},
        {"package.source", "device.package.source"},
        {"package.kelvin", "device.package.kelvin"},
        {"bonds.mid", "device.bonds.mid"},
        {"bonds.jfet_gate", "device.bonds.jfet_gate"}};
    const auto it = table.find(name);
    return it == table.end() ? name + ".inductance" : it->second;
}

bool is_bus(const InductanceName& name) {
    return name.name.starts_with("buses.");
}

std::string written(const InductanceName& name) {
    return name.index ? fmt::format("{}[{}]", name.name, *name.index) : name.name;
}

/// Elements (indices) that a name stands for, keyed by position or bus segment; key 0 for a shared one.
std::map<int, size_t> matching_elements(const Network& network, const InductanceName& name,
                                        const Case& input) {
    std::map<int, size_t> out;
    const std::string element = inductance_element(name.name);
    for (size_t i = 0; i < network.elements.size(); ++i) {
        const Element& e = network.elements[i];
        if (e.kind != ElementKind::inductance) continue;
        if (is_bus(name)) {
            for (int k = 1; k < input.n(); ++k)
                if (e.name == fmt::format("{}[{}].inductance", name.name, k) &&
                    (!name.index || *name.index == k))
                    out[k] = i;
        } else if (e.name == element && (!name.index || e.position == *name.index)) {
            out[e.position] = i;
        }
    }
    return out;
}

/// May the name be absent from this network although the case is right? Shared parts are in no differential
/// block, the two edges use different bypasses, and a string that a capacitance of zero opens (a
/// complementary device that blocks, say) is nowhere.
bool may_be_absent(const Case& input, const InductanceName& name) {
    const std::string& n = name.name;
    if (n == "driver") return input.driver.inductance_h > 0;
    if (n == "driver.return") return input.driver.return_inductance_h > 0;
    if (n == "driver.bypass") return input.driver.bypass && input.driver.bypass->esl_h > 0;
    if (n == "driver.turn_off_bypass")
        return input.driver.turn_off_bypass && input.driver.turn_off_bypass->esl_h > 0;
    if (n == "power_loop") return input.power_loop.inductance_h > 0;
    if (n == "dc_link") return input.power_loop.dc_link && input.power_loop.dc_link->esl_h > 0;
    if (n == "load") return input.power_loop.load && input.power_loop.load->inductance_h;
    for (int k = 1; k <= input.n(); ++k) {
        if (name.index && *name.index != k) continue;
        const Position& p = input.positions[static_cast<size_t>(k - 1)];
        if (n == "snubber" && p.snubber && p.snubber->inductance_h > 0) return true;
        if (n == "gate_shunt" && p.gate_shunt && p.gate_shunt->inductance_h > 0) return true;
        if (n == "leg" && p.leg && p.leg->inductance_h > 0) return true;
    }
    return false;
}

/// Names the first coupling, in the order of the case, with which the inductance matrix is not positive
/// definite.
void check_positive_definite(const Network& network, const Case& input,
                             const std::vector<std::pair<size_t, size_t>>& mutuals) {
    // mutuals: (element index, coupling index). The unknowns that inductances share form small groups.
    std::vector<int> group(static_cast<size_t>(network.size()));
    std::iota(group.begin(), group.end(), 0);
    const auto find = [&group](int x) {
        while (group[static_cast<size_t>(x)] != x)
            x = group[static_cast<size_t>(x)] = group[static_cast<size_t>(group[static_cast<size_t>(x)])];
        return x;
    };
    const auto join = [&](const Element& e) {
        const int first = find(e.left.front().first);
        for (const auto& [i, s] : e.left) group[static_cast<size_t>(find(i))] = first;
        for (const auto& [i, s] : e.right) group[static_cast<size_t>(find(i))] = first;
    };
    for (const Element& e : network.elements)
        if (e.kind == ElementKind::inductance || e.kind == ElementKind::mutual) join(e);
    std::map<int, std::vector<std::pair<size_t, size_t>>> by_group;
    for (const auto& m : mutuals) by_group[find(network.elements[m.first].left.front().first)].push_back(m);
    for (const auto& [id, group_mutuals] : by_group) {
        std::map<int, int> row;
        for (int i = 0; i < network.size(); ++i)
            if (network.unknowns[static_cast<size_t>(i)].is_current && find(i) == id)
                row.try_emplace(i, static_cast<int>(row.size()));
        Eigen::MatrixXd l = Eigen::MatrixXd::Zero(static_cast<int>(row.size()), static_cast<int>(row.size()));
        const auto add = [&](const Element& e) {
            for (const auto& [i, a] : e.left)
                for (const auto& [j, b] : e.right) {
                    l(row.at(i), row.at(j)) += a * b * e.value;
                    if (e.kind == ElementKind::mutual) l(row.at(j), row.at(i)) += a * b * e.value;
                }
        };
        for (const Element& e : network.elements)
            if ((e.kind == ElementKind::inductance || e.name == "common_mode_choke.leakage") &&
                find(e.left.front().first) == id)
                add(e);
        // A choke's windings may lack leakage: an inductance beside them then has no part in this check.
        const auto definite = [](const Eigen::MatrixXd& m) {
            const Eigen::VectorXd scale = m.diagonal().cwiseSqrt().cwiseInverse();
            if (!scale.allFinite()) return false;
            return Eigen::LLT<Eigen::MatrixXd>(scale.asDiagonal() * m * scale.asDiagonal()).info() ==
                   Eigen::Success;
        };
        if (!definite(l)) continue;
        Eigen::MatrixXd before = l;
        for (const auto& [element, coupling] : group_mutuals) add(network.elements[element]);
        if (definite(l)) continue;
        l = before;
        for (const auto& [element, coupling] : group_mutuals) {
            add(network.elements[element]);
            if (definite(l)) continue;
            const Coupling& c = input.couplings[coupling];
            throw InputError(
                c.place, fmt::format("couplings[{}]", coupling + 1),
                fmt::format(
                    "with the coupling between {} and {} the inductance matrix is not positive definite "
                    "(more "
                    "flux is shared than there is); expected a smaller coefficient or mutual inductance",
                    written(c.first), written(c.second)));
        }
    }
}

void add_couplings(Network& network, const Case& input) {
    std::vector<std::pair<size_t, size_t>> mutuals;
    int slot = network.slots;
    for (size_t c = 0; c < input.couplings.size(); ++c, ++slot) {
        const Coupling& coupling = input.couplings[c];
        const auto first = matching_elements(network, coupling.first, input);
        const auto second = matching_elements(network, coupling.second, input);
        const auto require = [&](const auto& found, const InductanceName& name) {
            if (!found.empty()) return true;
            if (may_be_absent(input, name)) return false;
            throw InputError(
                coupling.place, fmt::format("couplings[{}].between", c + 1),
                fmt::format(
                    "found `{}`, which has no inductance in this case; expected an inductance above zero",
                    written(name)));
        };
        const bool have_first = require(first, coupling.first),
                   have_second = require(second, coupling.second);
        if (!have_first || !have_second) continue;
        const auto couple = [&](size_t x, size_t y) {
            const Element& a = network.elements[x];
            const Element& b = network.elements[y];
            if (x == y) return;
            const std::string name =
                fmt::format("couplings[{}].{}", c + 1, coupling.mutual_h ? "mutual" : "coefficient");
            // In the common block a shared inductance counts N times, a mutual inductance to it as well.
            const double shared = std::max(a.scale, b.scale);
            const double per_key =
                coupling.mutual_h ? shared : shared * std::sqrt(a.value / a.scale * b.value / b.scale);
            Element m{name,
                      std::max(a.position, b.position),
                      ElementKind::mutual,
                      per_key * (coupling.mutual_h ? *coupling.mutual_h : *coupling.coefficient),
                      false,
                      per_key,
                      a.left,
                      b.left,
                      slot};
            if (a.position != b.position && a.position != 0 && b.position != 0) m.position = 0;
            if (m.value == 0) return;
            m.first = static_cast<int>(x);
            m.second = static_cast<int>(y);
            network.elements.push_back(std::move(m));
            mutuals.emplace_back(network.elements.size() - 1, c);
        };
        // Two bare names of positions (or of buses) pair within a position (or segment); otherwise all pairs.
        const bool pairwise = !coupling.first.index && !coupling.second.index && first.begin()->first != 0 &&
                              second.begin()->first != 0 && is_bus(coupling.first) == is_bus(coupling.second);
        for (const auto& [i, x] : first)
            for (const auto& [j, y] : second)
                if (!pairwise || i == j) couple(x, y);
    }
    network.slots = slot;
    if (!mutuals.empty()) check_positive_definite(network, input, mutuals);
}

}  // namespace

Network build_network(const Case& input, const OperatingPoint& point, const NetworkOptions& options) {
    const Driver& driver = input.driver;
    const bool isolated = driver.per_position == DriverSharing::isolated;
    const bool own_drivers = driver.per_position != DriverSharing::shared;
    NetworkBuilder builder(isolated ? "source rail" : "kelvin rail");
    const int built = options.block == Block::whole ? input.n() : 1;
    const double scale = options.block == Block::common ? input.n() : 1;

    // Rails: a star is one node; a bus is a row of taps. Where every position has its own driver the gate
    // rail does not exist; where that is isolated the Kelvin rail does not either.
    std::array<std::vector<int>, 4> taps;
    std::array<int, 4> feed{};
    for (size_t r = 0; r < 4; ++r) {
        const bool absent = (static_cast<Rail>(r) == Rail::gate && own_drivers) ||
                            (static_cast<Rail>(r) == Rail::kelvin && isolated);
        const std::string name = fmt::format("{} rail", rail_names[r]);
        const bool bus = options.block == Block::whole && input.buses[r].has_value();
        for (int k = 1; k <= built; ++k)
            taps[r].push_back(
                builder.node(absent || bus ? fmt::format("{} tap[{}]", rail_names[r], k) : name));
        if (absent) {
            feed[r] = -1;
        } else if (bus) {
            feed[r] = builder.node(name);
            builder.wire(feed[r], taps[r][static_cast<size_t>(input.buses[r]->feed_at - 1)]);
            for (int k = 1; k < built; ++k) {
                const std::string segment = fmt::format("buses.{}[{}]", rail_names[r], k);
                builder.series(segment, 0, taps[r][static_cast<size_t>(k - 1)],
                               taps[r][static_cast<size_t>(k)],
                               {inductance(segment + ".inductance",
                                           input.buses[r]->inductance_h[static_cast<size_t>(k - 1)]),
                                resistance(segment + ".resistance",
                                           input.buses[r]->resistance_ohm[static_cast<size_t>(k - 1)])});
            }
        } else {
            feed[r] = taps[r][0];
        }
    }
    const auto rail = [](Rail r) { return static_cast<size_t>(r); };
    const int drain_feed = feed[rail(Rail::drain)], source_feed = feed[rail(Rail::source)];
    const int tab = builder.node("tab");
    if (options.block ==
        Block::differential) {  // the rails, where they exist, and the tab are virtual shorts
        for (int f : feed)
            if (f >= 0) builder.wire(f, feed[isolated ? rail(Rail::source) : rail(Rail::kelvin)]);
        builder.wire(tab, source_feed);
    }
    for (int k = 1; k <= built; ++k) {
        const auto i = static_cast<size_t>(k - 1);
        const PositionNodes nodes{k,          taps[0][i], taps[1][i],  taps[2][i],
                                  taps[3][i], drain_feed, source_feed, tab};
        add_position(builder, input, point, input.positions[i], point.device(k - 1), nodes,
                     options.keep_gate_resistor);
        if (!own_drivers) continue;
        const int back =
            isolated
                ? taps[1][i]
                : (driver.return_to == DriverReturn::source_rail ? source_feed : feed[rail(Rail::kelvin)]);
        add_driver(builder, driver, point.edge, k, taps[0][i], back, 1);
    }
    if (options.block != Block::differential) {
        if (!own_drivers)
            add_driver(builder, driver, point.edge, 0, feed[rail(Rail::gate)],
                       driver.return_to == DriverReturn::source_rail ? source_feed : feed[rail(Rail::kelvin)],
                       scale);
        add_power_loop(builder, input.power_loop, point, drain_feed, source_feed, scale);
    }
    Network network = builder.finish(options.describe);
    add_couplings(network, input);
    return network;
}

}  // namespace ringquell
