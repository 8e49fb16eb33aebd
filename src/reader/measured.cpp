#include "reader/measured.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "base/nearest.h"
#include "reader/field_reader.h"
#include "ringquell/bead_fit.h"
#include "ringquell/inductance.h"

namespace ringquell::internal {
namespace {

/// Above this a fit is doubted aloud; the measurement of a bead is rarely better.
constexpr double doubtful_rms = 0.02;

/// Calls `make` and lets its errors, which have no place and a relative key, name both in the case.
template <class F>
auto under(const std::string& path, const Place& place, F&& make) {
    try {
        return make();
    } catch (const InputError& error) {
        throw InputError(place, join_key(path, error.key()), error.text());
    }
}

double read_shape(const Node& node, const std::string& path, ReadContext& context) {
    const std::string expected = fmt::format(
        "one shape, such as `{{over_plane: {{length: 20 mm, width: 5 mm, height: 0.2 mm}}}}`; the "
        "shapes are {}",
        fmt::join(shape_names(), ", "));
    if (!node.is_map() || node.entries.size() != 1) fail_expecting(node, path, expected);
    const auto& [name, values] = node.entries.front();
    const std::string shape_path = join_key(path, name.text);
    const std::vector<std::string> known = dimension_names(name.text);
    if (known.empty())
        throw InputError(name.place, shape_path, "unknown shape" + suggestion(name.text, shape_names()));
    if (!values.is_map())
        fail_expecting(values, shape_path, fmt::format("a map with {}", fmt::join(known, ", ")));
    std::map<std::string, double> dimensions_m;
    for (const auto& [key, value] : values.entries) {
        const std::string key_path = join_key(shape_path, key.text);
        if (std::find(known.begin(), known.end(), key.text) == known.end())
            throw InputError(key.place, key_path, "unknown key" + suggestion(key.text, known));
        constexpr int most_alike = 1000;
        dimensions_m[key.text] = key.text == "count" ? read_integer(value, key_path, 1, most_alike)
                                                     : read_number(value, Dimension::length, key_path);
    }
    const Inductance found = under(path, values.place, [&name = name, &dimensions_m] {
        return inductance_of(shape_from(name.text, dimensions_m));
    });
    for (const std::string& warning : found.warnings) warn_once(context, shape_path, warning);
    return found.inductance_h;
}

Bead fit_curve(const Node& curve, const std::string& path, std::optional<double> dc_resistance_ohm,
               ReadContext& context) {
    if (!curve.is_scalar() || curve.scalar.empty()) fail_expecting(curve, path, "the path of a file");
    const std::string file = beside(curve.scalar, curve.place, context);
    const std::string identity = fmt::format("{}|{}", file, dc_resistance_ohm.value_or(-1));
    if (const auto known = context.fitted.find(identity); known != context.fitted.end()) return known->second;
    read_named_file(file, curve.place, path, context);  // so that a missing file is an error at its name
    BeadFitOptions options;
    options.dc_resistance_ohm = dc_resistance_ohm;
    if (context.fit_band_hz) std::tie(options.band_low_hz, options.band_high_hz) = *context.fit_band_hz;
    options.place = {file, 0, 0};
    std::vector<Warning> warnings;
    const std::vector<ImpedancePoint> points = read_impedance_file(file, &warnings);
    const BeadFit fit = fit_bead(points, options);
    warnings.insert(warnings.end(), fit.warnings.begin(), fit.warnings.end());
    if (const auto& [low, high] = context.judged_band_hz; high > 0)
        for (Warning& w : short_of_band(points, low, high, "require.band")) warnings.push_back(std::move(w));
    for (const Warning& warning : warnings)
        warn_once(context, path, fmt::format("{}: {}", curve.scalar, warning.text));
    if (fit.points_not_passive > 0)
        warn_once(context, path,
                  fmt::format("{}: {} of the points in the band are not passive and were left out",
                              curve.scalar, fit.points_not_passive));
    if (fit.rms_error > doubtful_rms)
        warn_once(
            context, path,
            fmt::format("{}: the fit with {} sections misses the data by {:.3g} % rms, {:.3g} % at worst "
                        "({:.4g} Hz), from {:.4g} Hz to {:.4g} Hz",
                        curve.scalar, fit.bead.sections.size(), 100 * fit.rms_error, 100 * fit.worst_error,
                        fit.worst_at_hz, fit.band_low_hz, fit.band_high_hz));
    Bead bead = fit.bead;
    bead.name = curve.scalar;
    auto measured = std::make_shared<std::vector<MeasuredCurve::Point>>();
    for (const BeadFitPoint& p : fit.points)
        if (p.used()) measured->push_back({p.frequency_hz, p.measured_ohm});
    bead.measured.points = std::move(measured);
    context.fitted.emplace(identity, bead);
    return bead;
}

}  // namespace

double read_inductance(const Node& node, const std::string& path, ReadContext& context) {
    if (node.is_map()) return read_shape(node, path, context);
    if (!node.is_list()) return read_number(node, Dimension::inductance, path);
    if (node.items.empty()) fail_expecting(node, path, "inductances in series");
    double sum = 0;
    for (size_t i = 0; i < node.items.size(); ++i)
        sum += read_inductance(node.items[i], fmt::format("{}[{}]", path, i + 1), context);
    return sum;
}

Bead read_bead(const Node& node, const std::string& path, ReadContext& context) {
    if (!node.is_map()) fail_expecting(node, path, "a map with the keys of a bead");
    FieldReader reader(node, path, context);
    const Node* curve = node.find("curve");
    if (!curve || curve->is_null()) {
        Bead bead;
        describe(reader, bead);
        reader.take("curve");
        reader.finish();
        return bead;
    }
    reader.take("curve");
    for (const char* key : {"resistance", "inductance", "capacitance", "sections"})
        if (const Node* other = reader.take(key))
            reader.fail(*other, key, "found beside `curve`, which replaces it");
    std::string name;
    std::optional<double> dc_resistance_ohm;
    std::vector<std::pair<double, double>> saturation;
    reader.text("name", name);
    reader.number("dc_resistance", dc_resistance_ohm, ohms);
    reader.pairs("saturation", saturation, Dimension::current, Dimension::share);
    reader.finish();
    Bead bead = fit_curve(*curve, join_key(path, "curve"), dc_resistance_ohm, context);
    if (!name.empty()) bead.name = name;
    bead.saturation = std::move(saturation);
    return bead;
}

}  // namespace ringquell::internal
