#include "ringquell/network.h"

#include <fmt/format.h>

#include <algorithm>

#include "network/couplings.h"
#include "network/probes.h"
#include "network/table.h"

namespace ringquell {

using namespace internal;

std::string Element::label() const {
    if (position == 0) return name;
    const size_t dot = name.find('.');
    if (dot == std::string::npos) return fmt::format("{}[{}]", name, position);
    return fmt::format("{}[{}]{}", name.substr(0, dot), position, name.substr(dot));
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

Eigen::SparseMatrix<double> Network::b() const {
    std::vector<Eigen::Triplet<double>> entries;
    for (size_t k = 0; k < ports.size(); ++k)
        for (const auto& [i, sign] : ports[k].across) entries.emplace_back(i, static_cast<int>(k), sign);
    Eigen::SparseMatrix<double> out(size(), static_cast<Eigen::Index>(ports.size()));
    out.setFromTriplets(entries.begin(), entries.end());
    return out;
}

bool positions_alike(const Case& input, const OperatingPoint& point) {
    if (point.devices.size() > 1) return false;
    if (std::any_of(input.probes.begin(), input.probes.end(), [](const Probe& p) { return p.stands(); }))
        return false;
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

std::vector<size_t> gate_resistor_elements(const Network& network, const Case& input, Edge edge) {
    std::vector<size_t> out;
    for (size_t i = 0; i < network.elements.size(); ++i) {
        const Element& e = network.elements[i];
        if (e.position > 0 && e.name == gate_resistor_element(input, edge, e.position - 1)) out.push_back(i);
    }
    return out;
}

Network build_network(const Case& input, const OperatingPoint& point, const NetworkOptions& options) {
    const bool own_drivers = input.driver.per_position != DriverSharing::shared;
    const bool has_kelvin_rail = rail_exists(input, Rail::kelvin);
    NetworkBuilder builder(input, point, has_kelvin_rail ? "kelvin rail" : "source rail");
    const int built = options.block == Block::whole ? input.n() : 1;
    const double scale = options.block == Block::common ? input.n() : 1;
    const Rails rails = add_rails(builder, built, options.block == Block::whole);
    const int drain_feed = rails.feed_of(Rail::drain), source_feed = rails.feed_of(Rail::source);
    const int tab = builder.node("tab");
    if (options.block == Block::differential) {
        // The rails, where they exist, and the tab are virtual shorts.
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
        add_position(builder, nodes, options.keep_gate_resistor);
        if (own_drivers) add_own_driver(builder, nodes);
    }
    if (options.block != Block::differential) {
        if (!own_drivers) add_shared_driver(builder, rails, scale);
        add_power_loop(builder, rails, scale);
    }
    add_probes(builder, options.block == Block::whole);
    Network network = builder.finish(options);
    add_couplings(network, input, point);
    return network;
}

}  // namespace ringquell
