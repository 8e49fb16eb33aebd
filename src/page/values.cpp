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

constexpr size_t most_modes = 16;

/// Of each point the least damped modes, at least one of each kind; the rest are counted.
void thin_modes(Json& point) {
    Json kept = Json::array();
    std::set<std::string> kinds;
    for (Json& mode : point["modes"])
        if (kept.size() < most_modes || !kinds.contains(mode["kind"].get<std::string>())) {
            kinds.insert(mode["kind"].get<std::string>());
            mode.erase("cycles_to_a_tenth");  // follows from the damping ratio
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

/// The cells of a row by kind: `differential`, `differential_hz`. Frequencies are for times of three digits.
void add_cells(Json& out, const char* name, const std::vector<std::optional<LeastMode>>& row) {
    Json damping = Json::array(), hz = Json::array();
    for (const auto& least : row) {
        damping.push_back(least ? Json(least->damping_ratio) : Json());
        hz.push_back(least ? Json(std::stod(fmt::format("{:.4g}", least->natural_frequency_hz))) : Json());
    }
    out[name] = std::move(damping);
    out[std::string(name) + "_hz"] = std::move(hz);
}

Json plane_value(const DampingPlane& plane) {
    Json rows = Json::array();
    for (const auto& row : plane.rows) {
        Json v = Json::array();
        std::vector<std::optional<LeastMode>> differential, common;
        for (const PlaneCell& cell : row) {
            v.push_back(cell.vds_v);
            differential.push_back(cell.least.differential);
            common.push_back(cell.least.common);
        }
        rows.push_back({{"current_a", row.front().current_a}, {"vds_v", v}});
        add_cells(rows.back(), "differential", differential);
        add_cells(rows.back(), "common", common);
    }
    return {{"edge", edge_name(plane.edge)},
            {"junction_temperature_degc", plane.junction_temperature_degc},
            {"rows", rows},
            {"not_shown", plane.not_shown}};
}

/// Of one position the common modes, else the differential ones.
Json snubbers_value(const SnubberMap& map, int positions) {
    Json rows = Json::array();
    const bool common = positions == 1;
    for (size_t k = 0; k < map.rows.size(); ++k) {
        std::vector<std::optional<LeastMode>> row;
        for (const LeastModes& cell : map.rows[k]) row.push_back(common ? cell.common : cell.differential);
        rows.push_back({{"capacitance_f", map.capacitance_f[k]}});
        add_cells(rows.back(), common ? "common" : "differential", row);
    }
    Json fitted;
    if (map.fitted)
        fitted = {{"capacitance_f", map.fitted->capacitance_f},
                  {"resistance_ohm", map.fitted->resistance_ohm}};
    return {{"resistance_ohm", map.resistance_ohm},
            {"rows", rows},
            {"fitted", fitted},
            {"differ", map.differ},
            {"inductance_h", map.inductance_h},
            {"points", map.points},
            {"points_of_path", map.points_of_path},
            {"not_shown", map.not_shown}};
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
    if (!bead.measured.points) return out;
    constexpr size_t most_points = 120;
    const auto& points = *bead.measured.points;
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

template <class Things, class ValueOf>
Json list_of(const Things& things, const ValueOf& value_of) {
    Json out = Json::array();
    for (const auto& thing : things) out.push_back(value_of(thing));
    return out;
}

}  // namespace

void shorten(Json& value) {
    if (value.is_number_float()) {
        const double x = value.get<double>();
        if (!std::isfinite(x)) return;
        value = std::stod(fmt::format("{:.7g}", x));
        constexpr double exact = 1e15;  // whole numbers need no ".0"
        if (const double rounded = value.get<double>();
            std::abs(rounded) < exact && std::trunc(rounded) == rounded)
            value = static_cast<std::int64_t>(rounded);
        return;
    }
    if (value.is_structured())
        for (Json& item : value) shorten(item);
}

/// Its values in a row.
Json candidate_value(const BeadCandidate& candidate) {
    if (!candidate.bead) return {{"name", candidate.name}};
    constexpr double at_hz = 100e6;
    const std::complex<double> ohm = bead_impedance_ohm(*candidate.bead, {0, 2 * std::numbers::pi * at_hz});
    return {{"name", candidate.name},
            {"dc_resistance_ohm", candidate.bead->dc_resistance_ohm},
            {"capacitance_f", candidate.bead->capacitance_f},
            {"sections", sections_value(*candidate.bead)},
            {"at_100_mhz", {{"resistance_ohm", ohm.real()}, {"reactance_ohm", ohm.imag()}}}};
}

Json thinned_check(const CheckResult& result, const NetworkEcho* echo) {
    Json out = check_value(result, echo);
    for (Json& point : out["points"]) {
        thin_modes(point);
        group_devices(point, result.positions);
    }
    return out;
}

Json page_value(const PageData& data) {
    const CheckResult& result = data.result();
    Json out{{"ringquell", version},
             {"page", 1},
             {"made", data.made},
             {"case", {{"file", data.file}, {"hash", data.hash}, {"text", data.case_text}}}};
    out["check"] = thinned_check(result, data.network ? &*data.network : nullptr);
    out["sweeps"] = list_of(data.sweeps, [&](const GateSweep& s) { return sweep_value(s, result); });
    out["planes"] = list_of(data.planes, plane_value);
    out["snubber_map"] = snubbers_value(data.snubbers, result.positions);
    out["shapes"] = list_of(data.shapes, [&](const ModeShape& s) { return shape_value(s, result); });
    out["ring"] = ring_value(data.ring, result);
    out["beads"] = list_of(data.beads, bead_value);
    out["explain"] = explained_value(data.explanation);
    if (data.choice) {
        out["choose"] = choose_value(*data.choice);
        out["choose"]["beads"] = list_of(data.candidates, candidate_value);
    }
    if (data.budget) out["budget"] = budget_value(*data.budget)["budget"];
    if (data.spread) out["spread"] = spread_value(*data.spread);
    shorten(out);
    return out;
}

}  // namespace ringquell::internal
