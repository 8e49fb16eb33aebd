// A verdict and its sizing as JSON values.
#include "case/enum_names.h"
#include "report/parts.h"
#include "report/values.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

namespace {

const char* complementary_key(Complementary c) {
    return name_of(c);
}

Json found_json(const CheckResult& result, const std::optional<FoundMode>& found) {
    if (!found) return Json::object();
    Json out{{"point", result.points[found->point].point.name}};
    out.update(mode_value(found->mode));
    if (!found->family.empty()) out["family"] = found->family;
    out["damping_uncertainty"] = found->damping_uncertainty;
    out["damping_by_gain"] = found->damping_by_gain;
    out["fed_by_gain"] = found->fed_by_gain();
    if (result.require.passive_damping && found->mode.kind == ModeKind::differential) {
        out["gain_feed"] = found->mode.gain_feed;
        out["damping_needed"] = damping_target(found->mode, result.require);
    }
    return out;
}

Json families_json(const CheckResult& result) {
    Json names = Json::array(), events = Json::array();
    for (const Family& f : result.families.families)
        names.push_back({{"name", f.name}, {"kind", kind_name(f.kind)}, {"multiplicity", f.multiplicity}});
    for (const FamilyEvent& e : result.families.events)
        events.push_back({{"change", family_change_name(e.change)},
                          {"family", e.family},
                          {"other", e.other},
                          {"from", result.points[e.from].point.name},
                          {"to", result.points[e.to].point.name}});
    return {{"names", names}, {"events", events}, {"not_followed", result.families.not_followed}};
}

Json die_json(const DieValues& v) {
    return {{"transconductance_s", v.transconductance_s},
            {"output_conductance_s", v.output_conductance_s},
            {"cgs_f", v.cgs_f},
            {"cgd_f", v.cgd_f},
            {"cds_f", v.cds_f},
            {"region", region_name(v.region)}};
}

Json point_json(const CheckResult& result, size_t index) {
    const PointResult& r = result.points[index];
    Json out{{"name", r.point.name},
             {"edge", edge_name(r.point.edge)},
             {"vds_v", r.point.vds_v},
             {"current_a", r.point.current_a},
             {"complementary", complementary_key(r.point.complementary)},
             {"junction_temperature_degc", r.point.junction_temperature_degc},
             {"judged", r.point.judged}};
    Json devices = Json::array();
    const auto& temperatures = r.point.position_temperatures_degc;
    for (size_t k = 0; k < r.point.devices.size(); ++k) {
        const DeviceValues& d = r.point.devices[k];
        Json device{{"kind", name_of(d.kind)}, {"mosfet", die_json(d.mosfet)}};
        if (!temperatures.empty()) device["junction_temperature_degc"] = temperatures[k];
        if (!(d.jfet == DieValues{})) device["jfet"] = die_json(d.jfet);
        if (d.solved) {
            device["current_a"] = d.current_a;
            device["gate_voltage_v"] = d.gate_voltage_v;
        }
        devices.push_back(std::move(device));
    }
    out["devices"] = std::move(devices);
    Json modes = Json::array();
    for (const Mode& m : r.modes.modes)
        if (m.oscillates() && in_band(m, result.require)) {
            modes.push_back(mode_value(m));
            if (const std::string family = family_of(result.families, index, m); !family.empty())
                modes.back()["family"] = family;
        }
    out["modes"] = std::move(modes);
    return out;
}

Json sizing_json(const EdgeSizing& s, const CheckResult& result) {
    Json acceptable = Json::array(), bounds = Json::array(), bounding = Json::array();
    for (const Window& w : s.acceptable.windows) {
        acceptable.push_back({w.low, w.high});
        bounds.push_back({bound_name(w.low_bound), bound_name(w.high_bound)});
        bounding.push_back({w.low_point, w.high_point});
    }
    Json out{{"key", s.acceptable.key},
             {"fitted_ohm", s.fitted_lowest_ohm},
             {"minimum_ohm", s.minimum_ohm ? Json(*s.minimum_ohm) : Json()},
             {"preferred_ohm", s.preferred_ohm ? Json(*s.preferred_ohm) : Json()},
             {"series", "E24"},
             {"margin", s.by_samples ? "59 samples" : "30 %"},
             {"acceptable_ohm", acceptable},
             {"bounded_by", bounds},
             {"bounding_points", bounding},
             {"complete", s.acceptable.complete},
             {"passes_with_preferred", s.passes_with_preferred}};
    if (!s.acceptable.complete) out["why_not_complete"] = s.acceptable.why_not_complete;
    if (s.acceptable.pencil_order > 0)
        out["bounds"] = {{"order", s.acceptable.pencil_order},
                         {"points", s.acceptable.pencil_points},
                         {"seconds", s.acceptable.pencil_s}};
    if (s.fitted_highest_ohm != s.fitted_lowest_ohm) out["fitted_highest_ohm"] = s.fitted_highest_ohm;
    if (s.fails_with_preferred) out["fails_with_preferred"] = found_json(result, s.fails_with_preferred);
    return out;
}

Json head(const CheckResult& result, const char* verb) {
    Json require{{"differential_damping", result.require.differential_damping}};
    if (result.require.common_damping) require["common_damping"] = *result.require.common_damping;
    require["band_hz"] = {result.require.band_low_hz, result.require.band_high_hz};
    require["gate_resistance_limit_ohm"] = result.require.gate_resistance_limit_ohm;
    if (result.require.passive_damping) require["passive_damping"] = *result.require.passive_damping;
    if (result.require.gain_margin) require["gain_margin"] = *result.require.gain_margin;
    return {{"ringquell", version},          {"verb", verb},
            {"title", result.title},         {"verdict", verdict_name(result.verdict)},
            {"positions", result.positions}, {"requirement", require}};
}

/// `gain_margin`: null where nothing can grow; absent where it was not sought.
void add_gain_margin(Json& out, const CheckResult& result) {
    const auto onset = [&](const GainMargin::Onset& o) {
        return Json{{"factor", o.factor},
                    {"point", result.points[o.point].point.name},
                    {"kind", kind_name(o.mode.kind)},
                    {"natural_frequency_hz", o.mode.natural_frequency_hz()},
                    {"above_band", o.mode.natural_frequency_hz() > result.require.band_high_hz}};
    };
    if (const auto& g = result.gain_margin) {
        if (g->left_out.empty()) out["gain_margin"] = g->onset ? Json(g->onset->factor) : Json();
        Json how{{"complete", g->complete}};
        if (!g->complete) how["grid_ratio"] = g->grid_ratio;
        if (!g->left_out.empty()) how = {{"left_out", g->left_out}};
        if (g->onset) how["onset"] = onset(*g->onset);
        if (g->onset_in_band) how["onset_in_band"] = onset(*g->onset_in_band);
        out["gain_margin_found"] = std::move(how);
    }
    if (result.grows_at_required_gain) out["grows_at_required_gain"] = onset(*result.grows_at_required_gain);
}

void add_sizing(Json& out, const CheckResult& result) {
    out["gate_resistance"] = Json::object();
    for (const auto& [edge, s] : result.gate_resistance)
        out["gate_resistance"][edge_name(edge)] = sizing_json(s, result);
}

/// Null where it was not sought or not found.
Json first_cure_json(const CheckResult& result) {
    if (!result.first_cure) return {};
    Json out{{"changes", changes_value(result.first_cure->changes)}};
    out["damping_ratio"] = or_null(result.first_cure->damping_ratio);
    out["price"] = result.first_cure->price;
    return out;
}

void add_warnings(Json& out, const CheckResult& result) {
    out["warnings"] = Json::array();
    for (const Warning& w : result.warnings) out["warnings"].push_back({{"key", w.key}, {"text", w.text}});
    out["caution"] = caution;
}

}  // namespace

Json internal::mode_value(const Mode& m) {
    Json out{{"kind", kind_name(m.kind)},
             {"common_share", m.common_share},
             {"multiplicity", m.multiplicity},
             {"real", m.eigenvalue.real()},
             {"imag", m.eigenvalue.imag()},
             {"natural_frequency_hz", m.natural_frequency_hz()},
             {"ringing_frequency_hz", m.ringing_frequency_hz()},
             {"damping_ratio", m.damping_ratio()}};
    add_pace(out, m);
    return out;
}

Json internal::check_value(const CheckResult& result, const NetworkEcho* echo) {
    Json out = head(result, "check");
    if (!result.undecided_reason.empty()) out["undecided_reason"] = result.undecided_reason;
    out["points"] = Json::array();
    for (size_t p = 0; p < result.points.size(); ++p) out["points"].push_back(point_json(result, p));
    out["growing"] = Json::array();
    for (const FoundMode& g : result.growing) {
        Json one{{"point", result.points[g.point].point.name},
                 {"real", g.mode.eigenvalue.real()},
                 {"imag", g.mode.eigenvalue.imag()},
                 {"kind", kind_name(g.mode.kind)},
                 {"natural_frequency_hz", g.mode.natural_frequency_hz()},
                 {"in_band", in_band(g.mode, result.require)}};
        add_pace(one, g.mode);
        out["growing"].push_back(std::move(one));
    }
    out["families"] = families_json(result);
    out["stages"] = stages_value(result);
    out["passages"] = passages_value(result.passages.passages);
    out["edge_growth"] = edge_growth_value(result);
    add_gain_margin(out, result);
    out["worst"] = {{"differential", found_json(result, result.worst_differential)},
                    {"common", found_json(result, result.worst_common)}};
    if (!result.measured.empty()) out["measured"] = measured_value(result);
    add_sizing(out, result);
    out["first_cure"] = first_cure_json(result);
    if (!result.assumed.empty()) out["assumed"] = assumed_value(result);
    out["condition"] = result.condition;
    if (echo) out["network"] = network_value(*echo);
    add_warnings(out, result);
    return out;
}

Json internal::size_value(const CheckResult& result) {
    Json out = head(result, "size");
    out.erase("verdict");
    add_sizing(out, result);
    add_warnings(out, result);
    return out;
}

std::string check_json(const CheckResult& result, const NetworkEcho* echo) {
    return printed(check_value(result, echo));
}

std::string size_json(const CheckResult& result) {
    return printed(size_value(result));
}

}  // namespace ringquell
