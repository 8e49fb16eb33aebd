// The numbers of a page as the JSON that its script draws from.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <numbers>
#include <set>

#include "page/data.h"
#include "report/parts.h"
#include "ringquell/version.h"

namespace ringquell::internal {

namespace {

constexpr size_t most_modes = 16, most_elements = 60;

/// Seven digits are more than any board will keep, and a third of the page.
void shorten(Json& value) {
    if (value.is_number_float()) {
        const double x = value.get<double>();
        if (std::isfinite(x)) value = std::stod(fmt::format("{:.7g}", x));
        return;
    }
    if (value.is_structured())
        for (Json& item : value) shorten(item);
}

/// Of each point the least damped modes, at least one of each kind; the rest are counted.
void thin_modes(Json& point) {
    Json kept = Json::array();
    std::set<std::string> kinds;
    for (Json& mode : point["modes"])
        if (kept.size() < most_modes || !kinds.contains(mode["kind"].get<std::string>())) {
            kinds.insert(mode["kind"].get<std::string>());
            kept.push_back(std::move(mode));
        }
    point["modes_left_out"] = point["modes"].size() - kept.size();
    point["modes"] = std::move(kept);
}

/// Devices of a point that are equal stand once, with their positions.
void group_devices(Json& point, int n) {
    std::vector<std::pair<Json, std::vector<int>>> groups;
    int number = 1;
    for (Json& device : point["devices"]) {
        const auto same =
            std::find_if(groups.begin(), groups.end(), [&](const auto& g) { return g.first == device; });
        if (same != groups.end())
            same->second.push_back(number);
        else
            groups.push_back({device, {number}});
        ++number;
    }
    if (groups.size() == 1) {
        groups.front().second.clear();
        for (int k = 1; k <= n; ++k) groups.front().second.push_back(k);
    }
    Json out = Json::array();
    for (auto& [device, positions] : groups) {
        device["positions"] = numbers_text(positions);
        out.push_back(std::move(device));
    }
    point["devices"] = std::move(out);
}

Json swept_value(const std::optional<SweptMode>& m, const CheckResult& result) {
    if (!m) return {};
    return {{"damping_ratio", m->damping_ratio},
            {"natural_frequency_hz", m->natural_frequency_hz},
            {"point", result.points[m->point].point.name}};
}

Json sweep_value(const GateSweep& s, const CheckResult& result) {
    Json values = Json::array();
    for (const SweptValue& v : s.values) {
        Json roots = Json::array();  // [Hz, damping ratio, 1 for a differential one]
        for (const SweptMode& m : v.roots)
            roots.push_back(
                {m.natural_frequency_hz, m.damping_ratio, m.kind == ModeKind::differential ? 1 : 0});
        values.push_back({{"ohm", v.ohm},
                          {"passes", v.passes},
                          {"growing", v.growing},
                          {"differential", swept_value(v.differential, result)},
                          {"common", swept_value(v.common, result)},
                          {"roots", roots}});
    }
    return {{"edge", edge_name(s.edge)},
            {"key", s.key},
            {"roots_at", result.points[s.point].point.name},
            {"points", s.points},
            {"points_of_edge", s.points_of_edge},
            {"values", values}};
}

Json plane_value(const DampingPlane& plane) {
    Json rows = Json::array();
    for (const auto& row : plane.rows) {
        Json v = Json::array(), differential = v, common = v, growing = v;
        for (const PlaneCell& cell : row) {
            v.push_back(cell.vds_v);
            differential.push_back(or_null(cell.differential));
            common.push_back(or_null(cell.common));
            growing.push_back(cell.grows ? 1 : 0);
        }
        rows.push_back({{"current_a", row.front().current_a},
                        {"vds_v", v},
                        {"differential", differential},
                        {"common", common},
                        {"grows", growing}});
    }
    return {{"edge", edge_name(plane.edge)},
            {"junction_temperature_degc", plane.junction_temperature_degc},
            {"rows", rows},
            {"not_shown", plane.not_shown}};
}

Json shape_value(const ModeShape& s, const CheckResult& result) {
    Json positions = Json::array();
    for (const Phasor& p : s.positions)
        positions.push_back({{"position", p.position},
                             {"real", p.amplitude.real()},
                             {"imag", p.amplitude.imag()},
                             {"energy_share", p.energy_share}});
    return {
        {"kind", kind_name(s.mode.kind)},          {"point", result.points[s.point].point.name},
        {"damping_ratio", s.mode.damping_ratio()}, {"natural_frequency_hz", s.mode.natural_frequency_hz()},
        {"multiplicity", s.mode.multiplicity},     {"one_of_many", s.one_of_many},
        {"shared_energy", s.shared_energy},        {"positions", positions}};
}

Json ring_value(const Ring& ring, const CheckResult& result) {
    Json curves = Json::array();
    for (const Ring::Curve& c : ring.curves)
        curves.push_back({{"positions", numbers_text(c.positions)}, {"voltage_v", c.voltage_v}});
    return {{"point", result.points.empty() ? "" : result.points[ring.point].point.name},
            {"disturbed", ring.disturbed},
            {"modes", ring.modes},
            {"time_s", ring.time_s},
            {"curves", curves},
            {"not_shown", ring.not_shown}};
}

struct ImpedanceCurve {
    Json frequency_hz = Json::array(), resistance_ohm = Json::array(), reactance_ohm = Json::array();
    void add(double hz, std::complex<double> ohm) {
        frequency_hz.push_back(hz);
        resistance_ohm.push_back(ohm.real());
        reactance_ohm.push_back(ohm.imag());
    }
};

ImpedanceCurve modelled(const Bead& bead) {
    constexpr double first_hz = 1e5, last_hz = 1e9;
    constexpr int per_decade = 20, count = 4 * per_decade + 1;
    ImpedanceCurve out;
    for (int k = 0; k < count; ++k) {
        const double hz =
            k == count - 1 ? last_hz : first_hz * std::pow(10.0, static_cast<double>(k) / per_decade);
        out.add(hz, bead_impedance_ohm(bead, {0, 2 * std::numbers::pi * hz}));
    }
    return out;
}

ImpedanceCurve measured(const Bead& bead) {
    ImpedanceCurve out;
    if (!bead.measured) return out;
    constexpr size_t most_points = 120;
    const auto& points = *bead.measured;
    const size_t step = (points.size() + most_points - 1) / most_points;
    for (size_t k = 0; k < points.size(); k += step) out.add(points[k].frequency_hz, points[k].impedance_ohm);
    return out;
}

/// With its impedance, and what it was fitted to.
Json bead_value(const PlacedBead& placed) {
    const Bead& bead = placed.bead;
    const ImpedanceCurve model = modelled(bead), points = measured(bead);
    return {{"key", placed.key},
            {"name", std::filesystem::path(bead.name).filename().string()},
            {"positions", numbers_text(placed.positions)},
            {"dc_resistance_ohm", bead.dc_resistance_ohm},
            {"capacitance_f", bead.capacitance_f},
            {"sections", sections_value(bead)},
            {"saturates", !bead.saturation.empty()},
            {"frequency_hz", model.frequency_hz},
            {"resistance_ohm", model.resistance_ohm},
            {"reactance_ohm", model.reactance_ohm},
            {"measured",
             {{"frequency_hz", points.frequency_hz},
              {"resistance_ohm", points.resistance_ohm},
              {"reactance_ohm", points.reactance_ohm}}}};
}

Json checked_value(const PageData& data) {
    Json out = check_value(data.result(), data.network ? &*data.network : nullptr);
    for (Json& point : out["points"]) {
        thin_modes(point);
        group_devices(point, data.result().positions);
    }
    return out;
}

Json explained_value(const Explanation& explanation) {
    Json out = explain_value(explanation)["modes"];
    for (Json& mode : out) {
        const size_t count = mode["elements"].size();
        while (mode["elements"].size() > most_elements) mode["elements"].erase(mode["elements"].size() - 1);
        mode["elements_left_out"] = count - mode["elements"].size();
    }
    return out;
}

template <class Things, class ValueOf>
Json list_of(const Things& things, const ValueOf& value_of) {
    Json out = Json::array();
    for (const auto& thing : things) out.push_back(value_of(thing));
    return out;
}

}  // namespace

Json page_value(const PageData& data) {
    const CheckResult& result = data.result();
    Json out{{"ringquell", version},
             {"page", 1},
             {"made", data.made},
             {"case", {{"file", data.file}, {"hash", data.hash}, {"text", data.case_text}}}};
    out["check"] = checked_value(data);
    out["sweeps"] = list_of(data.sweeps, [&](const GateSweep& s) { return sweep_value(s, result); });
    out["planes"] = list_of(data.planes, plane_value);
    out["shapes"] = list_of(data.shapes, [&](const ModeShape& s) { return shape_value(s, result); });
    out["ring"] = ring_value(data.ring, result);
    out["beads"] = list_of(data.beads, bead_value);
    out["explain"] = explained_value(data.explanation);
    if (data.choice) out["choose"] = choose_value(*data.choice);
    if (data.budget) out["budget"] = budget_value(*data.budget)["budget"];
    if (data.spread) out["spread"] = spread_value(*data.spread);
    shorten(out);
    return out;
}

}  // namespace ringquell::internal
