#include "ringquell/choose.h"

#include <fmt/format.h>

#include <algorithm>

#include "report/parts.h"
#include "report/values.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

namespace {

std::string quantity(const std::optional<double>& value, Dimension dimension, int digits = 3) {
    return value ? engineering(*value, dimension, digits) : "-";
}

/// Joules and watts have no Dimension of their own.
std::string scaled(const std::optional<double>& value, double scale) {
    return value ? fmt::format("{:.3g}", *value * scale) : "-";
}

std::string verdict(const ChosenOption& o) {
    std::string out = !o.preferred_ohm          ? "no value"
                      : o.shoot_through()       ? "SHOOT-THROUGH"
                      : !o.passes               ? "fails"
                      : !o.dominated_by.empty() ? "dominated"
                                                : "passes";
    if (!o.within_limits) out += ", limit";
    return out;
}

std::string row(const ChosenOption& o) {
    constexpr size_t widest = 22;
    std::string name = o.bead + (o.fitted ? " *" : "");
    if (name.size() > widest) name = "..." + name.substr(name.size() - widest + 3);
    return fmt::format("{:>2} {:<22} {:>8} {:>8} {:>6} {:>6} {:>8} {:>8} {:>6} {:>7} {:>6}  {}\n", o.rank,
                       name, quantity(o.minimum_ohm, Dimension::resistance),
                       quantity(o.preferred_ohm, Dimension::resistance),
                       o.damping_ratio ? fmt::format("{:.3f}", *o.damping_ratio) : "-",
                       o.margin ? fmt::format("{:.0f}%", 100 * *o.margin) : "-",
                       quantity(o.cost.current_transfer_s, Dimension::time),
                       quantity(o.cost.voltage_transfer_s, Dimension::time),
                       scaled(o.cost.switching_energy_j, 1e3), scaled(o.cost.resistor_power_w, 1e3),
                       o.induced ? fmt::format("{:.1f}", o.induced->gate_voltage_v) : "-", verdict(o));
}

const ChosenOption* best(const Choice& choice, Edge edge) {
    for (const ChosenOption& o : choice.options)
        if (o.edge == edge && o.recommended() && o.within_limits && o.preferred_ohm) return &o;
    return nullptr;
}

std::string advice(const Choice& choice, Edge edge) {
    const ChosenOption* o = best(choice, edge);
    if (o == nullptr) return fmt::format("For {}: none of these can be recommended.\n", edge_word(edge));
    return fmt::format("For {}: {} with {}.\n", edge_word(edge), o->bead,
                       engineering(*o->preferred_ohm, Dimension::resistance, 3));
}

Json option_json(const ChosenOption& o) {
    Json out{{"bead", o.bead}, {"edge", edge_name(o.edge)}, {"rank", o.rank}, {"fitted", o.fitted}};
    out["minimum_ohm"] = or_null(o.minimum_ohm);
    out["preferred_ohm"] = or_null(o.preferred_ohm);
    out["complete"] = o.complete;
    out["window_low_ohm"] = or_null(o.window_low_ohm);
    out["window_high_ohm"] = or_null(o.window_high_ohm);
    out["margin"] = or_null(o.margin);
    out["damping_ratio"] = or_null(o.damping_ratio);
    out["natural_frequency_hz"] = or_null(o.natural_frequency_hz);
    out["common_damping_ratio"] = or_null(o.common_damping_ratio);
    out["passes"] = o.passes;
    out["recommended"] = o.recommended() && o.within_limits;
    out["within_limits"] = o.within_limits;
    out["dominated_by"] = o.dominated_by.empty() ? Json() : Json(o.dominated_by);
    const SwitchingEstimate& c = o.cost;
    out["gate_sets_dv_dt"] = !c.cascode;
    out["gate_time_constant_s"] = c.gate_time_constant_s;
    out["plateau_v"] = or_null(c.plateau_v);
    out["current_transfer_s"] = or_null(c.current_transfer_s);
    out["voltage_transfer_s"] = or_null(c.voltage_transfer_s);
    out["switching_energy_j"] = or_null(c.switching_energy_j);
    out["resistor_power_w"] = or_null(c.resistor_power_w);
    out["snubber_loss_w"] = c.snubber_loss_w;
    out["induced_gate_v"] = or_null(o.induced ? std::optional(o.induced->gate_voltage_v) : std::nullopt);
    out["threshold_v"] = or_null(o.induced ? std::optional(o.induced->threshold_v) : c.threshold_v);
    out["shoot_through"] = o.induced ? Json(o.shoot_through()) : Json();
    out["estimates_missing"] = c.notes;
    return out;
}

}  // namespace

std::string choose_text(const Choice& choice, bool quiet) {
    std::string out, notes;
    for (const Edge edge : {Edge::turn_on, Edge::turn_off}) {
        const auto of_edge = [&](const ChosenOption& o) { return o.edge == edge; };
        if (std::none_of(choice.options.begin(), choice.options.end(), of_edge)) continue;
        if (quiet) {
            out += advice(choice, edge);
            continue;
        }
        constexpr const char* columns =
            "{:>2} {:<22} {:>8} {:>8} {:>6} {:>6} {:>8} {:>8} {:>6} {:>7} {:>6}\n";
        out += fmt::format("{}\n", edge_word(edge));
        out += fmt::format(columns, "", "bead", "least", "fit", "damp.", "margin", "current", "voltage",
                           "loss", "power", "held");
        out += fmt::format(columns, "", "(* fitted now)", "", "E24", "ratio", "", "transfer", "transfer",
                           "mJ", "mW", "gate V");
        for (const ChosenOption& o : choice.options) {
            if (o.edge != edge) continue;
            out += row(o);
            for (const std::string& note : o.cost.notes)
                if (notes.find(note) == std::string::npos) notes += "  " + note + "\n";
        }
        out += advice(choice, edge) + "\n";
    }
    if (quiet) return out;
    if (choice.filtered_out > 0) out += fmt::format("{} beyond a limit left out.\n", choice.filtered_out);
    if (!notes.empty()) out += "About the estimates\n" + notes;
    for (const ChosenOption& o : choice.options)
        if (o.induced) {
            out += fmt::format(
                "held gate: what dv/dt of the other switch's turn-on brings this switch's held gate to; it "
                "conducts from {:.3g} V.\n",
                o.induced->threshold_v);
            break;
        }
    out += fmt::format(
        "transfer times, loss (of the switch), power (in one resistor, at {}) and held gate are textbook "
        "estimates\n"
        "of one edge (docs/estimates.md): good for comparing rows, not for a heat sink.\n\n",
        engineering(choice.switching_frequency_hz, Dimension::frequency, 4));
    return out + caution;
}

Json internal::choose_value(const Choice& choice) {
    Json out{{"ringquell", version},
             {"verb", "choose"},
             {"title", choice.title},
             {"switching_frequency_hz", choice.switching_frequency_hz}};
    out["options"] = Json::array();
    for (const ChosenOption& o : choice.options) out["options"].push_back(option_json(o));
    out["filtered_out"] = choice.filtered_out;
    out["sizings"] = choice.sizings;
    out["caution"] = caution;
    return out;
}

std::string choose_json(const Choice& choice) {
    return printed(choose_value(choice));
}

}  // namespace ringquell
