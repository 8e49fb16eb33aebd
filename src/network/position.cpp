#include <fmt/format.h>

#include <algorithm>

#include "network/parts.h"
#include "network/table.h"

namespace ringquell::internal {

namespace {

/// The share of a bead's inductance and resistance that a bias leaves: linear between the points, constant
/// beyond them.
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

/// Get: const std::optional<Bead>&, that of `bead` wherever a rule is applied.
template <class Get>
std::vector<Part> bead_parts(const std::string& key, const std::optional<Bead>& bead, Get) {
    if (!bead) return {};
    std::vector<Part> sections;
    for (size_t k = 0; k < bead->sections.size(); ++k) {
        const std::string name =
            bead->sections.size() == 1 ? key : fmt::format("{}.sections[{}]", key, k + 1);
        const Part ohm = resistance(
            name + ".resistance",
            [](const At& at) {
                const Bead& own = *Get{}(at);
                return saturation_left(own, at.point.gate_current_a) * own.sections[at.index].resistance_ohm;
            },
            k);
        const Part henry = inductance(
            name + ".inductance",
            [](const At& at) {
                const Bead& own = *Get{}(at);
                return saturation_left(own, at.point.gate_current_a) * own.sections[at.index].inductance_h;
            },
            k);
        sections.push_back(parallel({{ohm}, {henry}}));
    }
    std::vector<Part> out{
        resistance(key + ".dc_resistance", [](const At& at) { return Get{}(at)->dc_resistance_ohm; })};
    if (bead->capacitance_f == 0) return joined(out, sections);
    out.push_back(parallel({sections, {capacitance(key + ".capacitance", [](const At& at) {
                                return Get{}(at)->capacitance_f;
                            })}}));
    return out;
}

std::vector<Part> gate_resistor_parts(const GatePath& path, Edge edge, bool keep) {
    Part resistor = resistance(
        "gate_path.resistor", [](const At& at) { return at.own().gate_path.resistor_ohm.of(at.point.edge); });
    if (!path.diode) {
        resistor.keep = keep;
        return {resistor};
    }
    Part diode_resistor = resistance("gate_path.diode.resistor",
                                     [](const At& at) { return at.own().gate_path.diode->resistor_ohm; });
    if (path.diode->blocks == edge) {
        resistor.keep = keep;
        const Part blocking = capacitance("gate_path.diode.capacitance", [](const At& at) {
            return at.own().gate_path.diode->capacitance_f;
        });
        return {parallel({{resistor}, {diode_resistor, blocking}})};
    }
    diode_resistor.keep = keep;
    const Part conducting = resistance("gate_path.diode.on_resistance", [](const At& at) {
        return at.own().gate_path.diode->on_resistance_ohm;
    });
    return {parallel({{resistor}, {diode_resistor, conducting}})};
}

/// Where a die lies.
struct DieNodes {
    int position, gate, drain, source;
};

/// `die`: a member of DeviceValues. `lossy_drain_gate`: the output resistance stands beside cgd, not cds.
template <DieValues DeviceValues::*die>
void add_die(NetworkBuilder& builder, const std::string& key, const DieNodes& at, bool lossy_drain_gate) {
    const std::string cap = key + ".capacitance", gm = key + ".channel.transconductance";
    const int k = at.position;
    const Part output = resistance(cap + ".output_resistance",
                                   [](const At& here) { return (here.device().*die).output_resistance_ohm; });
    const Part cgs = capacitance(cap + ".cgs", [](const At& here) { return (here.device().*die).cgs_f; });
    const Part cgd = capacitance(cap + ".cgd", [](const At& here) { return (here.device().*die).cgd_f; });
    const Part cds = capacitance(cap + ".cds", [](const At& here) { return (here.device().*die).cds_f; });
    using String = std::vector<Part>;
    builder.series(cap + ".cgs", k, at.gate, at.source, {cgs});
    builder.series(cap + ".cgd", k, at.gate, at.drain, lossy_drain_gate ? String{cgd, output} : String{cgd});
    builder.series(cap + ".cds", k, at.drain, at.source,
                   lossy_drain_gate ? String{cds} : String{cds, output});
    builder.transconductance(gm, k, {at.drain, at.source}, {at.gate, at.source},
                             [](const At& here) { return (here.device().*die).transconductance_s; });
    builder.conductance(key + ".channel.output_conductance", k, {at.drain, at.source},
                        [](const At& here) { return (here.device().*die).output_conductance_s; });
}

/// The nodes inside a position.
struct InnerNodes {
    int gate, drain, source;
    int gate_pin, drain_pin, source_pin, kelvin_pin;
};

/// Places a position's strings one after another.
class PositionTable {
  public:
    PositionTable(NetworkBuilder& builder, const PositionNodes& at)
        : builder_(builder),
          at_(at),
          own_(builder.input().positions[static_cast<size_t>(at.number - 1)]),
          in_(inner_nodes()) {}

    /// From the gate tap through the chip's gate, and back from the source to the Kelvin tap.
    void gate_loop(bool keep_gate_resistor) {
        std::vector<Part> gate_path =
            gate_resistor_parts(own_.gate_path, builder_.point().edge, keep_gate_resistor);
        gate_path =
            joined(gate_path, bead_parts(
                                  "gate_path.bead", own_.gate_path.bead,
                                  [](const At& at) -> const auto& { return at.own().gate_path.bead; }));
        gate_path.push_back(
            inductance("gate_path.inductance", [](const At& at) { return at.own().gate_path.inductance_h; }));
        kelvin_path_ = {
            resistance("kelvin_path.resistor", [](const At& at) { return at.own().kelvin().resistor_ohm; }),
            inductance("kelvin_path.inductance",
                       [](const At& at) { return at.own().kelvin().inductance_h; })};
        kelvin_path_ =
            joined(kelvin_path_, bead_parts(
                                     "kelvin_path.bead", own_.kelvin().bead,
                                     [](const At& at) -> const auto& { return at.own().kelvin().bead; }));
        if (own_.common_mode_choke && own_.common_mode_choke->inductance_h != 0) add_choke(gate_path);
        series("gate_path", at_.gate_tap, in_.gate_pin, gate_path);
    }

    void package() {
        series(
            "device.package.gate", in_.gate_pin, in_.gate,
            {inductance("device.package.gate", [](const At& at) { return at.own().device.package.gate_h; }),
             resistance("device.package.gate_resistance",
                        [](const At& at) { return at.own().device.package.gate_resistance_ohm; }),
             resistance("device.gate_resistance",
                        [](const At& at) { return at.device().gate_resistance_ohm; })});
        series(
            "device.package.drain", in_.drain_pin, in_.drain,
            {inductance("device.package.drain", [](const At& at) { return at.own().device.package.drain_h; }),
             resistance("device.package.drain_resistance",
                        [](const At& at) { return at.own().device.package.drain_resistance_ohm; })});
        series("device.package.source", in_.source, in_.source_pin,
               {inductance("device.package.source",
                           [](const At& at) { return at.own().device.package.source_h; }),
                resistance("device.package.source_resistance",
                           [](const At& at) { return at.own().device.package.source_resistance_ohm; })});
        if (own_.device.package.kelvin_h)
            series("device.package.kelvin", in_.source, in_.kelvin_pin,
                   {inductance("device.package.kelvin",
                               [](const At& at) { return *at.own().device.package.kelvin_h; }),
                    resistance("device.package.kelvin_resistance",
                               [](const At& at) { return at.own().device.package.kelvin_resistance_ohm; })});
    }

    /// To the rails, and the Kelvin path.
    void paths() {
        series("drain_path", at_.drain_tap, in_.drain_pin,
               {resistance("drain_path.resistance",
                           [](const At& at) { return at.own().drain_path.resistance_ohm; }),
                inductance("drain_path.inductance",
                           [](const At& at) { return at.own().drain_path.inductance_h; })});
        series("source_path", in_.source_pin, at_.source_tap,
               {inductance("source_path.inductance",
                           [](const At& at) { return at.own().source_path.inductance_h; }),
                resistance("source_path.resistance",
                           [](const At& at) { return at.own().source_path.resistance_ohm; })});
        if (own_.kelvin_path) series("kelvin_path", in_.kelvin_pin, at_.kelvin_tap, kelvin_path_);
    }

    /// What may stand beside the device.
    void extras() {
        if (own_.snubber)
            series("snubber", in_.drain_pin, in_.source_pin,
                   rlc_parts(
                       "snubber", [](const At& at) -> const auto& { return at.own().snubber; }));
        if (own_.gate_shunt)
            series("gate_shunt", in_.gate_pin, in_.kelvin_pin,
                   rlc_parts(
                       "gate_shunt", [](const At& at) -> const auto& { return at.own().gate_shunt; }));
        if (own_.gate_drain)
            series("gate_drain", in_.gate_pin, in_.drain_pin,
                   rlc_parts(
                       "gate_drain", [](const At& at) -> const auto& { return at.own().gate_drain; }));
        if (own_.tab)
            series("tab", in_.drain, at_.tab,
                   rlc_parts(
                       "tab", [](const At& at) -> const auto& { return at.own().tab; }));
        if (own_.leg) series("leg", in_.drain_pin, in_.source_pin, leg_parts());
    }

    void device() {
        if (own_.device.kind != DeviceKind::cascode) {
            add_die<&DeviceValues::mosfet>(builder_, "device", {at_.number, in_.gate, in_.drain, in_.source},
                                           false);
            return;
        }
        const int mid = node("mid"), jfet_source = node("JFET source"), jfet_gate = node("JFET gate");
        add_die<&DeviceValues::mosfet>(builder_, "device.mosfet", {at_.number, in_.gate, mid, in_.source},
                                       false);
        series("device.bonds.mid", mid, jfet_source,
               {inductance("device.bonds.mid", [](const At& at) { return at.own().device.bonds.mid_h; })});
        add_die<&DeviceValues::jfet>(builder_, "device.jfet", {at_.number, jfet_gate, in_.drain, jfet_source},
                                     true);
        const bool to_pin = own_.device.bonds.jfet_gate_to == JfetGateTo::source_pin;
        series("device.bonds.jfet_gate", jfet_gate, to_pin ? in_.source_pin : in_.source,
               {resistance("device.jfet.gate_resistance",
                           [](const At& at) { return at.device().jfet_gate_resistance_ohm; }),
                inductance("device.bonds.jfet_gate",
                           [](const At& at) { return at.own().device.bonds.jfet_gate_h; })});
    }

  private:
    int node(const char* name) { return builder_.node(fmt::format("{}[{}]", name, at_.number)); }
    InnerNodes inner_nodes() {
        InnerNodes out{};
        out.gate = node("gate");
        out.drain = node("drain");
        out.source = node("source");
        out.gate_pin = node("gate pin");
        out.drain_pin = node("drain pin");
        out.source_pin = node("source pin");
        out.kelvin_pin = own_.device.package.kelvin_h ? node("Kelvin pin") : out.source_pin;
        return out;
    }
    void series(const char* name, int from, int to, const std::vector<Part>& parts) {
        builder_.series(name, at_.number, from, to, parts);
    }

    /// One winding in the gate path, one in the Kelvin path.
    void add_choke(std::vector<Part>& gate_path) {
        const CommonModeChoke& choke = *own_.common_mode_choke;
        if (choke.leakage_h >= 4 * choke.inductance_h)
            throw InputError(
                {}, fmt::format("common_mode_choke[{}].leakage", at_.number),
                fmt::format("found {:.4g} H, which two windings of {:.4g} H cannot have; expected less than "
                            "four times the inductance (a few per cent is usual)",
                            choke.leakage_h, choke.inductance_h));
        const size_t pair = builder_.couple_windings(
            at_.number,
            inductance("common_mode_choke.inductance",
                       [](const At& at) { return at.own().common_mode_choke->inductance_h; }),
            inductance("common_mode_choke.leakage",
                       [](const At& at) { return at.own().common_mode_choke->leakage_h; }));
        const auto side = [&](const std::string& name, size_t number) {
            std::vector<std::vector<Part>> branches{{winding(name, pair, number)}};
            if (choke.resistance_ohm)
                branches.push_back({resistance("common_mode_choke.resistance", [](const At& at) {
                    return *at.own().common_mode_choke->resistance_ohm;
                })});
            return parallel(std::move(branches));
        };
        gate_path.push_back(side("common_mode_choke.gate", 0));
        kelvin_path_.push_back(side("common_mode_choke.kelvin", 1));
    }

    std::vector<Part> leg_parts() const {
        std::vector<Part> leg{
            inductance("leg.inductance", [](const At& at) { return at.own().leg->inductance_h; }),
            resistance("leg.resistance", [](const At& at) { return at.own().leg->resistance_ohm; })};
        leg = joined(leg, complementary_parts(
                              "leg.complementary", builder_.point().complementary,
                              [](const At& at) {
                                  const auto& at_point = at.point.leg_capacitance_f;
                                  return at_point.empty() ? at.own().leg->complementary.capacitance_f
                                                          : at_point[at.position];
                              },
                              [](const At& at) -> const auto& { return at.own().leg->complementary; }));
        if (!own_.leg->dc_link) return leg;  // an ideal supply
        return joined(leg,
                      capacitor_parts(
                          "leg.dc_link", [](const At& at) -> const auto& { return *at.own().leg->dc_link; }));
    }

    NetworkBuilder& builder_;
    const PositionNodes& at_;
    const Position& own_;
    InnerNodes in_;
    std::vector<Part> kelvin_path_;
};

}  // namespace

void add_position(NetworkBuilder& builder, const PositionNodes& at, bool keep_gate_resistor) {
    PositionTable table(builder, at);
    table.gate_loop(keep_gate_resistor);
    table.package();
    table.paths();
    table.extras();
    table.device();
}

}  // namespace ringquell::internal
