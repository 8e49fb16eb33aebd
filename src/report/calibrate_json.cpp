#include <cmath>

#include "report/values.h"
#include "ringquell/calibrate.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

namespace {

Json finite(double value) {
    return std::isfinite(value) ? Json(value) : Json();
}

Json fitted_value(const RingFit& fit) {
    Json out{{"from_s", fit.from_s},       {"to_s", fit.to_s},
             {"samples", fit.samples},     {"noise_rms", fit.noise_rms},
             {"whiteness", fit.whiteness}, {"whiteness_allowed", fit.whiteness_allowed}};
    out["rings"] = Json::array();
    for (const FittedRing& r : fit.rings)
        out["rings"].push_back({{"frequency_hz", r.frequency_hz},
                                {"frequency_error_hz", r.frequency_error_hz},
                                {"damping_ratio", r.damping_ratio},
                                {"damping_error", r.damping_error},
                                {"amplitude", r.amplitude},
                                {"amplitude_error", r.amplitude_error},
                                {"phase_rad", r.phase_rad}});
    out["starts"] = Json::array();
    for (const RingStart& s : fit.starts)
        out["starts"].push_back({{"from_s", s.from_s},
                                 {"frequency_hz", s.ring.frequency_hz},
                                 {"frequency_error_hz", s.ring.frequency_error_hz},
                                 {"damping_ratio", s.ring.damping_ratio},
                                 {"damping_error", s.ring.damping_error}});
    out["steady_s"] = fit.steady ? Json{fit.steady->first, fit.steady->second} : Json();
    out["remarks"] = fit.remarks;
    return out;
}

Json record_value(const CalibratedRecord& r) {
    Json out{{"name", r.record.name}, {"at", r.record.unpowered ? "unpowered" : r.record.point}};
    if (r.record.kind == BenchRecord::Kind::impedance) {
        out["points"] = r.points;
        out["off_before"] = r.off_before;
        out["off_after"] = r.off_after;
    } else {
        out["frequency_hz"] = r.frequency_hz;
        out["frequency_error_hz"] = r.frequency_error_hz;
        out["damping_ratio"] = r.damping_ratio;
        out["damping_error"] = r.damping_error;
        out["mode"] = r.modes.empty() ? Json() : beside_value(r.modes.front());
        out["two_would_do"] = r.two_would_do;
        out["other_mode"] = r.two_would_do ? beside_value(r.modes[1]) : Json();
        out["mode_after"] = r.after ? beside_value(*r.after) : Json();
        out["nearest"] = r.nearest ? mode_value(*r.nearest) : Json();
        out["fit"] = r.fit ? fitted_value(*r.fit) : Json();
    }
    out["nothing_rings_like_that"] = r.nothing_rings_like_that;
    out["fits"] = r.fits();
    out["greatest_off"] = r.greatest_off;
    return out;
}

Json single_value(const SingleChangeRow& row) {
    Json out{{"key", row.keys.front()},
             {"keys", row.keys},
             {"factor", row.from != 0 ? finite(row.to / row.from) : Json()},
             {"from", row.from},
             {"to", row.to},
             {"tolerances", row.tolerances},
             {"tolerance_given", row.tolerance_given},
             {"misfit", row.misfit},
             {"score", row.score},
             {"explains", row.explains},
             {"others", row.others}};
    out["frequency_hz"] = row.frequency_hz;
    out["damping_ratio"] = row.damping_ratio;
    out["worst_damping"] = or_null(row.worst_damping);
    return out;
}

Json combination_value(const CalibratedCombination& c) {
    Json out{{"plus", c.plus}, {"minus", c.minus}, {"narrowed", c.narrowed}};
    out["value"] = c.is_sum ? Json(c.value) : Json();
    out["error"] = c.is_sum ? Json(c.error) : Json();
    out["opposite_narrowed"] = or_null(c.opposite_narrowed);
    return out;
}

Json share(const std::optional<SpreadResult>& spread) {
    if (!spread || spread->samples == 0) return {};
    return static_cast<double>(spread->passed) / static_cast<double>(spread->samples);
}

}  // namespace

Json internal::beside_value(const ModeBesideRing& m) {
    Json out = mode_value(m.mode);
    out["view"] = m.view;
    out["frequency_off"] = m.frequency_off;
    out["damping_off"] = m.damping_off;
    return out;
}

Json internal::calibrate_value(const Calibration& c, const std::string& written) {
    Json out{{"ringquell", version}, {"verb", "calibrate"}, {"title", c.title}, {"explained", c.explained()}};
    out["records"] = Json::array();
    for (const CalibratedRecord& r : c.records) out["records"].push_back(record_value(r));
    out["single_changes"] = Json::array();
    for (const SingleChangeRow& row : c.single_changes) out["single_changes"].push_back(single_value(row));
    out["misfit"] = {{"before", finite(c.misfit_before)}, {"after", finite(c.misfit_after)}};
    out["plausibility"] = c.plausibility;
    out["beyond"] = c.beyond;
    out["converged"] = c.converged;
    out["other_minima"] = c.other_minima;
    out["unknowns"] = Json::array();
    for (const CalibratedUnknown& u : c.unknowns)
        out["unknowns"].push_back({{"key", u.key},
                                   {"vary", u.batch ? "batch" : "position"},
                                   {"before", u.before},
                                   {"before_error", u.before_error},
                                   {"after", u.after},
                                   {"after_error", u.after_error},
                                   {"narrowed", u.narrowed},
                                   {"records", u.records}});
    out["combinations"] = Json::array();
    for (const CalibratedCombination& k : c.combinations) out["combinations"].push_back(combination_value(k));
    out["worst"] = {{"point", c.worst_point},
                    {"before", finite(c.worst_before)},
                    {"before_error", c.known_before.error},
                    {"before_95", {c.known_before.low, c.known_before.high}},
                    {"after", c.worst_after},
                    {"after_error", c.known_after.error},
                    {"after_95", {c.known_after.low, c.known_after.high}}};
    out["pass_share"] = {{"before", share(c.spread_before)}, {"after", share(c.spread_after)}};
    out["next"] = Json::array();
    for (const NextMeasurement& m : c.next)
        out["next"].push_back({{"what", m.what},
                               {"at", m.at},
                               {"between", {m.from, m.to}},
                               {"probe", m.probe.empty() ? Json() : Json(m.probe)},
                               {"left", m.left}});
    out["remarks"] = c.remarks;
    out["calibrated"] = written.empty() ? Json() : Json(written);
    out["caution"] = caution;
    return out;
}

std::string calibrate_json(const Calibration& c, const std::string& written) {
    return printed(calibrate_value(c, written));
}

}  // namespace ringquell
