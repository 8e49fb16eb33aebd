#include "page/data.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <numbers>
#include <set>

#include "base/lists.h"
#include "page/tables.h"
#include "review/damping_plane.h"
#include "review/gate_sweep.h"
#include "review/mode_shape.h"
#include "ringquell/bead_fit.h"
#include "ringquell/report.h"
#include "ringquell/spread.h"
#include "ringquell/vary.h"
#include "ringquell/write_case.h"

namespace ringquell::internal {

namespace {

using Json = nlohmann::ordered_json;

constexpr int few_uneven = 8;  // positions up to which budget and passing values take seconds
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

Json swept_json(const std::optional<SweptMode>& m, const CheckResult& result) {
    if (!m) return {};
    return {{"damping_ratio", m->damping_ratio},
            {"natural_frequency_hz", m->natural_frequency_hz},
            {"point", result.points[m->point].point.name}};
}

Json sweep_json(const GateSweep& s, const CheckResult& result) {
    Json values = Json::array();
    for (const SweptValue& v : s.values) {
        Json roots = Json::array();  // [Hz, damping ratio, 1 for a differential one]
        for (const SweptMode& m : v.roots)
            roots.push_back(
                {m.natural_frequency_hz, m.damping_ratio, m.kind == ModeKind::differential ? 1 : 0});
        values.push_back({{"ohm", v.ohm},
                          {"passes", v.passes},
                          {"growing", v.growing},
                          {"differential", swept_json(v.differential, result)},
                          {"common", swept_json(v.common, result)},
                          {"roots", roots}});
    }
    return {{"edge", edge_name(s.edge)},
            {"key", s.key},
            {"roots_at", result.points[s.point].point.name},
            {"points", s.points},
            {"points_of_edge", s.points_of_edge},
            {"values", values}};
}

Json plane_json(const DampingPlane& plane) {
    Json rows = Json::array();
    const auto or_null = [](const std::optional<double>& x) { return x ? Json(*x) : Json(); };
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

Json shape_json(const ModeShape& s, const CheckResult& result) {
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

Json ring_json(const Ring& ring, const CheckResult& result) {
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

/// Beads that differ, with where they are, their impedance, and what they were fitted to.
Json beads_json(const Case& input) {
    struct Seen {
        const Bead* bead;
        const char* path;
        std::vector<int> positions;
    };
    std::vector<Seen> beads;
    for (int k = 1; k <= input.n(); ++k) {
        const Position& p = input.positions[static_cast<size_t>(k - 1)];
        for (const auto& [bead, path] : {std::pair{&p.gate_path.bead, "gate_path.bead"},
                                         std::pair{&p.kelvin().bead, "kelvin_path.bead"}}) {
            if (!*bead) continue;
            const auto same = std::find_if(beads.begin(), beads.end(), [&](const Seen& s) {
                return *s.bead == **bead && s.path == path;
            });
            if (same != beads.end())
                same->positions.push_back(k);
            else
                beads.push_back({&**bead, path, {k}});
        }
    }
    constexpr size_t most = 6;  // a board with more different beads is a table, not a plot
    if (beads.size() > most) beads.resize(most);
    Json out = Json::array();
    for (const Seen& s : beads) {
        constexpr double first_hz = 1e5, last_hz = 1e9;
        constexpr int per_decade = 20, count = 4 * per_decade + 1;
        Json f = Json::array(), r = f, x = f, measured_f = f, measured_r = f, measured_x = f;
        for (int k = 0; k < count; ++k) {
            const double hz =
                k == count - 1 ? last_hz : first_hz * std::pow(10.0, static_cast<double>(k) / per_decade);
            const std::complex<double> z = bead_impedance_ohm(*s.bead, {0, 2 * std::numbers::pi * hz});
            f.push_back(hz);
            r.push_back(z.real());
            x.push_back(z.imag());
        }
        if (s.bead->measured.points) {
            constexpr size_t most_points = 120;
            const auto& points = *s.bead->measured.points;
            const size_t step = (points.size() + most_points - 1) / most_points;
            for (size_t k = 0; k < points.size(); k += step) {
                measured_f.push_back(points[k].frequency_hz);
                measured_r.push_back(points[k].impedance_ohm.real());
                measured_x.push_back(points[k].impedance_ohm.imag());
            }
        }
        Json sections = Json::array();
        for (const BeadSection& section : s.bead->sections)
            sections.push_back(
                {{"resistance_ohm", section.resistance_ohm}, {"inductance_h", section.inductance_h}});
        out.push_back({{"key", s.path},
                       {"name", std::filesystem::path(s.bead->name).filename().string()},
                       {"positions", numbers_text(s.positions)},
                       {"dc_resistance_ohm", s.bead->dc_resistance_ohm},
                       {"capacitance_f", s.bead->capacitance_f},
                       {"sections", sections},
                       {"saturates", !s.bead->saturation.empty()},
                       {"frequency_hz", f},
                       {"resistance_ohm", r},
                       {"reactance_ohm", x},
                       {"measured",
                        {{"frequency_hz", measured_f},
                         {"resistance_ohm", measured_r},
                         {"reactance_ohm", measured_x}}}});
    }
    return out;
}

}  // namespace

EnergyShares energy_shares(const ExplainedMode& mode) {
    EnergyShares out;
    for (const ExplainedElement& element : mode.elements) {
        if (element.share.energy_share == 0) continue;
        std::string name = element.share.key;
        // Elements of different positions are one symbol, as are the segments of a rail:
        // gate_path[2].inductance, device[2].package.gate, buses.drain[1].inductance. A coupling keeps its
        // number, a bead's section, too.
        const size_t open = name.find('['), dots = name.starts_with("buses.") ? 6 : 0;
        if (open != std::string::npos && open < name.find('.', dots) && !name.starts_with("couplings"))
            name.erase(open, name.find(']') - open + 1);
        out[name] += element.share.energy_share;
    }
    return out;
}

PageData page_data(const Case& input, const PageOptions& options) {
    PageData out;
    const CheckResult checked = check(input, options.check);
    const bool alike = std::all_of(checked.points.begin(), checked.points.end(),
                                   [](const PointResult& r) { return r.modes.by_blocks(); });
    const bool quick = alike || input.n() <= few_uneven;
    const bool budget = options.budget.value_or(quick);
    out.explanation = explain_checked(input, checked, {.passing_values = budget});
    const CheckResult& result = out.explanation.result;
    if (const FoundMode* worst = mode_in_question(result)) {
        out.drawn_point = worst->point;
        for (const ExplainedMode& mode : out.explanation.modes)
            if (mode.found.mode.kind == worst->mode.kind) out.energy = energy_shares(mode);
    }

    const std::string text = write_case(input);
    Json& json = out.json;
    json = {{"ringquell", version},
            {"page", 1},
            {"made", options.made},
            {"case",
             {{"file", std::filesystem::path(input.file).filename().string()},
              {"hash", text_hash(text)},
              {"text", text}}}};
    if (!result.points.empty()) out.network = network_echo(input, result.points[out.drawn_point].point);
    json["check"] = Json::parse(check_json(result, out.network ? &*out.network : nullptr));
    for (Json& point : json["check"]["points"]) {
        thin_modes(point);
        group_devices(point, input.n());
    }
    json["sweeps"] = Json::array();
    for (const GateSweep& s : sweep_gate_resistors(input, result))
        json["sweeps"].push_back(sweep_json(s, result));
    json["planes"] = Json::array();
    for (const DampingPlane& plane : damping_planes(input, result))
        json["planes"].push_back(plane_json(plane));
    json["shapes"] = Json::array();
    for (const ModeShape& s : mode_shapes(input, result)) json["shapes"].push_back(shape_json(s, result));
    json["ring"] = ring_json(ring_after_disturbance(input, result), result);
    json["beads"] = beads_json(input);
    json["explain"] = Json::parse(explain_json(out.explanation))["modes"];
    for (Json& mode : json["explain"]) {
        const size_t count = mode["elements"].size();
        while (mode["elements"].size() > most_elements) mode["elements"].erase(mode["elements"].size() - 1);
        mode["elements_left_out"] = count - mode["elements"].size();
    }
    if (quick) {
        ChooseOptions choosing;
        choosing.beads = options.beads;
        choosing.switching_frequency_hz = options.switching_frequency_hz;
        json["choose"] = Json::parse(choose_json(choose(input, choosing)));
    }
    if (budget) {
        std::vector<Varied> rows;
        for (const std::string& key : layout_keys(input)) rows.push_back(acceptable_values(input, {key}));
        json["budget"] = Json::parse(budget_json(rows))["budget"];
    }
    if (!input.spread.empty() && options.samples > 0) {
        SpreadOptions spreading;
        spreading.samples = options.samples;
        spreading.seed = options.seed;
        spreading.threads = options.threads;
        json["spread"] = Json::parse(spread_json(spread(input, spreading), {}, {}, ""));
    }
    shorten(json);
    return out;
}

}  // namespace ringquell::internal
