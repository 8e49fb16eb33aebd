#include "review/unused_couplings.h"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <set>
#include <string>

#include "case/coupling_names.h"
#include "ringquell/network.h"

namespace ringquell::internal {

namespace {

/// What the judged points have in common.
struct Judged {
    bool turn_on = false, turn_off = false, blocking_alone = true;
    std::set<size_t> coupled;           // couplings, from 0, that a network uses
    std::set<std::string> inductances;  // elements that a network has
};

Judged judged_networks(const Case& input, const std::vector<PointResult>& points) {
    Judged out;
    std::set<std::pair<Edge, Complementary>> seen;
    for (const PointResult& r : points) {
        if (!r.point.judged) continue;
        (r.point.edge == Edge::turn_on ? out.turn_on : out.turn_off) = true;
        if (r.point.complementary == Complementary::conducting) out.blocking_alone = false;
        if (!seen.emplace(r.point.edge, r.point.complementary).second) continue;
        const bool alike = r.modes.by_blocks();
        const Network network =
            build_network(input, r.point, {alike ? Block::common : Block::whole, false, false});
        for (const Element& e : network.elements) {
            if (e.kind == ElementKind::inductance) out.inductances.insert(e.name);
            if (e.first >= 0) out.coupled.insert(std::stoul(e.name.substr(e.name.find('[') + 1)) - 1);
        }
    }
    return out;
}

bool there(const Judged& judged, const CoupledInductance& inductance) {
    return std::any_of(judged.inductances.begin(), judged.inductances.end(), [&](const std::string& name) {
        return name == inductance.element ||
               (inductance.counts == Counts::segments && name.starts_with(inductance.element));
    });
}

std::string opened_by(const std::string& key) {
    return fmt::format("`{}` is zero, which opens the string it stands in", key);
}

std::optional<std::string> opened(const Capacitor* capacitor, const std::string& key) {
    if (capacitor == nullptr || capacitor->capacitance_f != 0) return std::nullopt;
    return opened_by(key + ".capacitance");
}

std::optional<std::string> opened(const ComplementaryDevice& device, const std::string& key,
                                  const Judged& judged) {
    if (!judged.blocking_alone || device.curve || device.capacitance_f != 0) return std::nullopt;
    return opened_by(key + ".capacitance") +
           " while the complementary device blocks, as it does at every judged point";
}

std::optional<std::string> opened(const std::optional<SeriesRlc>& rlc, const std::string& key) {
    if (!rlc || rlc->capacitance_f != 0) return std::nullopt;
    return opened_by(key + ".capacitance");
}

const Capacitor* pointer(const std::optional<Capacitor>& capacitor) {
    return capacitor ? &*capacitor : nullptr;
}

/// Why no judged network has the inductance, as a clause.
std::string why_absent(const Case& input, const InductanceName& name, const Judged& judged) {
    const std::string& n = name.name;
    if (n == "driver.bypass" && !judged.turn_on) return "no judged point turns on";
    if (n == "driver.turn_off_bypass" && !judged.turn_off) return "no judged point turns off";
    if (n.starts_with("buses."))
        return fmt::format("there is no {} rail here to join the positions", n.substr(n.find('.') + 1));
    std::optional<std::string> why;
    if (n.starts_with("driver")) {
        why = opened(judged.turn_on ? pointer(input.driver.bypass) : nullptr, "driver.bypass");
        if (!why)
            why = opened(judged.turn_off ? pointer(input.driver.turn_off_bypass) : nullptr,
                         "driver.turn_off_bypass");
    }
    if (n == "power_loop" || n == "dc_link") {
        why = opened(pointer(input.power_loop.dc_link), "power_loop.dc_link");
        if (!why) why = opened(input.power_loop.complementary, "power_loop.complementary", judged);
    }
    for (size_t k = 0; k < input.positions.size() && !why; ++k) {
        const Position& p = input.positions[k];
        if (name.index && static_cast<size_t>(*name.index) != k + 1) continue;
        if (n == "snubber") why = opened(p.snubber, "snubber");
        if (n == "gate_shunt") why = opened(p.gate_shunt, "gate_shunt");
        if ((n == "leg" || n == "leg.dc_link") && p.leg) {
            why = opened(pointer(p.leg->dc_link), "leg.dc_link");
            if (!why) why = opened(p.leg->complementary, "leg.complementary", judged);
        }
    }
    return why.value_or(fmt::format("no judged network has `{}`", written(name)));
}

std::string why_unused(const Case& input, const Coupling& c, const Judged& judged) {
    const CoupledInductance* first = coupled_inductance(c.first.name);
    const CoupledInductance* second = coupled_inductance(c.second.name);
    if (first == nullptr || second == nullptr) return "one of them is no inductance of a network";
    if (first == second) return "both are the same inductance";
    if (!there(judged, *first)) return why_absent(input, c.first, judged);
    if (!there(judged, *second)) return why_absent(input, c.second, judged);
    return "no judged network has both at once";
}

}  // namespace

std::vector<Warning> unused_couplings(const Case& input, const std::vector<PointResult>& points) {
    std::vector<Warning> out;
    if (input.couplings.empty() || points.empty()) return out;
    const Judged judged = judged_networks(input, points);
    for (size_t k = 0; k < input.couplings.size(); ++k) {
        const Coupling& c = input.couplings[k];
        const bool none = c.coefficient.value_or(c.mutual_h.value_or(0)) == 0;
        if (none || judged.coupled.contains(k)) continue;
        out.push_back({fmt::format("couplings[{}]", k + 1),
                       fmt::format("the coupling between {} and {} does nothing: {}", written(c.first),
                                   written(c.second), why_unused(input, c, judged))});
    }
    return out;
}

}  // namespace ringquell::internal
