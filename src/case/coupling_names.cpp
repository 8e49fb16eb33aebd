#include "case/coupling_names.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace ringquell::internal {

namespace {

const Position& at(const Case& c, size_t k) {
    return c.positions[k];
}
bool is_cascode(const Case& c, size_t k) {
    return at(c, k).device.kind == DeviceKind::cascode;
}
double of(const std::optional<SeriesRlc>& x) {
    return x ? x->inductance_h : 0;
}
double of(const std::optional<Capacitor>& x) {
    return x ? x->esl_h : 0;
}
double segment(const Case& c, Rail rail, size_t k) {
    const auto& bus = c.buses[static_cast<size_t>(rail)];
    return bus && k < bus->inductance_h.size() ? bus->inductance_h[k] : 0;
}

constexpr std::array table{
    CoupledInductance{"gate_path", "gate_path.inductance", Counts::positions,
                      [](const Case& c, size_t k) { return at(c, k).gate_path.inductance_h; }},
    CoupledInductance{"kelvin_path", "kelvin_path.inductance", Counts::positions,
                      [](const Case& c, size_t k) { return at(c, k).kelvin().inductance_h; }},
    CoupledInductance{"drain_path", "drain_path.inductance", Counts::positions,
                      [](const Case& c, size_t k) { return at(c, k).drain_path.inductance_h; }},
    CoupledInductance{"source_path", "source_path.inductance", Counts::positions,
                      [](const Case& c, size_t k) { return at(c, k).source_path.inductance_h; }},
    CoupledInductance{"package.gate", "device.package.gate", Counts::positions,
                      [](const Case& c, size_t k) { return at(c, k).device.package.gate_h; }},
    CoupledInductance{"package.drain", "device.package.drain", Counts::positions,
                      [](const Case& c, size_t k) { return at(c, k).device.package.drain_h; }},
    CoupledInductance{"package.source", "device.package.source", Counts::positions,
                      [](const Case& c, size_t k) { return at(c, k).device.package.source_h; }},
    CoupledInductance{"package.kelvin", "device.package.kelvin", Counts::positions,
                      [](const Case& c, size_t k) { return at(c, k).device.package.kelvin_h.value_or(0); }},
    CoupledInductance{
        "bonds.mid", "device.bonds.mid", Counts::positions,
        [](const Case& c, size_t k) { return is_cascode(c, k) ? at(c, k).device.bonds.mid_h : 0; }},
    CoupledInductance{
        "bonds.jfet_gate", "device.bonds.jfet_gate", Counts::positions,
        [](const Case& c, size_t k) { return is_cascode(c, k) ? at(c, k).device.bonds.jfet_gate_h : 0; }},
    CoupledInductance{"snubber", "snubber.inductance", Counts::positions,
                      [](const Case& c, size_t k) { return of(at(c, k).snubber); }},
    CoupledInductance{"gate_shunt", "gate_shunt.inductance", Counts::positions,
                      [](const Case& c, size_t k) { return of(at(c, k).gate_shunt); }},
    CoupledInductance{"leg", "leg.inductance", Counts::positions,
                      [](const Case& c, size_t k) { return at(c, k).leg ? at(c, k).leg->inductance_h : 0; }},
    CoupledInductance{"leg.dc_link", "leg.dc_link.esl", Counts::positions,
                      [](const Case& c, size_t k) { return at(c, k).leg ? of(at(c, k).leg->dc_link) : 0; }},
    CoupledInductance{"buses.gate", "buses.gate", Counts::segments,
                      [](const Case& c, size_t k) { return segment(c, Rail::gate, k); }},
    CoupledInductance{"buses.kelvin", "buses.kelvin", Counts::segments,
                      [](const Case& c, size_t k) { return segment(c, Rail::kelvin, k); }},
    CoupledInductance{"buses.drain", "buses.drain", Counts::segments,
                      [](const Case& c, size_t k) { return segment(c, Rail::drain, k); }},
    CoupledInductance{"buses.source", "buses.source", Counts::segments,
                      [](const Case& c, size_t k) { return segment(c, Rail::source, k); }},
    CoupledInductance{"driver", "driver.inductance", Counts::drivers,
                      [](const Case& c, size_t) { return c.driver.inductance_h; }},
    CoupledInductance{"driver.return", "driver.return_inductance", Counts::drivers,
                      [](const Case& c, size_t) { return c.driver.return_inductance_h; }},
    CoupledInductance{"driver.bypass", "driver.bypass.esl", Counts::drivers,
                      [](const Case& c, size_t) { return of(c.driver.bypass); }},
    CoupledInductance{"driver.turn_off_bypass", "driver.turn_off_bypass.esl", Counts::drivers,
                      [](const Case& c, size_t) { return of(c.driver.turn_off_bypass); }},
    CoupledInductance{"power_loop", "power_loop.inductance", Counts::nothing,
                      [](const Case& c, size_t) { return c.power_loop.inductance_h; }},
    CoupledInductance{"dc_link", "power_loop.dc_link.esl", Counts::nothing,
                      [](const Case& c, size_t) { return of(c.power_loop.dc_link); }},
    CoupledInductance{"load", "power_loop.load.inductance", Counts::nothing,
                      [](const Case& c, size_t) {
                          return c.power_loop.load ? c.power_loop.load->inductance_h.value_or(0) : 0;
                      }},
};

}  // namespace

const CoupledInductance* coupled_inductance(std::string_view name) {
    const auto* found =
        std::find_if(table.begin(), table.end(), [&](const CoupledInductance& c) { return name == c.name; });
    return found == table.end() ? nullptr : found;
}

std::vector<std::string> coupled_names() {
    std::vector<std::string> out;
    out.reserve(table.size());
    for (const CoupledInductance& c : table) out.emplace_back(c.name);
    return out;
}

bool counts_positions(const CoupledInductance& inductance, const Driver& driver) {
    return inductance.counts == Counts::positions ||
           (inductance.counts == Counts::drivers && driver.per_position != DriverSharing::shared);
}

bool has_inductance(const Case& input, const InductanceName& name) {
    const CoupledInductance* inductance = coupled_inductance(name.name);
    if (inductance == nullptr) return false;
    const auto n = static_cast<size_t>(input.n());
    const size_t count = inductance->counts == Counts::segments ? n - 1 : n;
    for (size_t k = 0; k < count; ++k)
        if ((!name.index || static_cast<size_t>(*name.index) == k + 1) && inductance->value_h(input, k) > 0)
            return true;
    return false;
}

bool is_value_of(const std::string& key, const InductanceName& name) {
    const CoupledInductance* inductance = coupled_inductance(name.name);
    if (inductance == nullptr) return false;
    std::string bare = key;  // without the number of a position or segment
    if (const size_t open = bare.find('['); open != std::string::npos)
        bare.erase(open, bare.find(']', open) - open + 1);
    const std::string element = inductance->element;
    return bare == (inductance->counts == Counts::segments ? element + ".inductance" : element);
}

std::string written(const InductanceName& name) {
    return name.index ? fmt::format("{}[{}]", name.name, *name.index) : name.name;
}

}  // namespace ringquell::internal
