#include <filesystem>

#include "page/calibrate_html.h"
#include "page/data.h"
#include "ringquell/page.h"
#include "ringquell/version.h"
#include "ringquell/write_case.h"

namespace ringquell::internal {

namespace {

/// The parts of a complex curve.
Json parts_value(const std::vector<ImpedanceBeside>& points, std::complex<double> ImpedanceBeside::*which) {
    Json out{{"resistance_ohm", Json::array()}, {"reactance_ohm", Json::array()}};
    for (const ImpedanceBeside& p : points) {
        out["resistance_ohm"].push_back((p.*which).real());
        out["reactance_ohm"].push_back((p.*which).imag());
    }
    return out;
}

Json impedance_value(const std::vector<ImpedanceBeside>& points) {
    Json out{{"frequency_hz", Json::array()}};
    for (const ImpedanceBeside& p : points) out["frequency_hz"].push_back(p.frequency_hz);
    out["measured"] = parts_value(points, &ImpedanceBeside::measured_ohm);
    out["before"] = parts_value(points, &ImpedanceBeside::before_ohm);
    out["after"] = parts_value(points, &ImpedanceBeside::after_ohm);
    return out;
}

/// What the plots of a record show beside what the verb's JSON says.
void add_shown(Json& out, const CalibratedRecord& r) {
    if (r.record.kind == BenchRecord::Kind::impedance) {
        out["error"] = r.record.error;
        out["impedance"] = impedance_value(r.impedance);
        return;
    }
    out["frequency_counted_hz"] = r.frequency_counted_hz;
    out["damping_counted"] = r.damping_counted;
    out["modes"] = Json::array();
    for (const ModeBesideRing& m : r.modes) out["modes"].push_back(beside_value(m));
    if (!r.fit) return;
    out["fit"]["shown"] = {
        {"time_s", r.fit->shown_time_s}, {"value", r.fit->shown_value}, {"fit", r.fit->shown_fit}};
}

}  // namespace

Json calibrate_page_value(const Case& input, const Calibration& c, const std::string& made) {
    const auto name_of_file = [](const std::string& path) {
        return std::filesystem::path(path).filename().string();
    };
    const std::string text = write_case(input);
    Json out{{"ringquell", version}, {"calibration", 1}, {"made", made}};
    out["bench_file"] = c.bench_file == c.file ? Json() : Json(name_of_file(c.bench_file));
    out["case"] = {{"file", name_of_file(c.file)}, {"hash", text_hash(text)}, {"text", text}};
    out["calibrated"] = c.explained() ? Json(write_case(c.calibrated)) : Json();
    out["requirement"] = {{"differential_damping", c.damping_asked},
                          {"band_hz", {input.require.band_low_hz, input.require.band_high_hz}}};
    out["calibrate"] = calibrate_value(c, "");
    for (size_t k = 0; k < c.records.size(); ++k) add_shown(out["calibrate"]["records"][k], c.records[k]);
    shorten(out);
    return out;
}

}  // namespace ringquell::internal
