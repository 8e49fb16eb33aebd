// A bead's fit in words, as JSON, and as the part file that a case names.
#include <fmt/format.h>

#include <algorithm>
#include <vector>

#include "report/values.h"
#include "ringquell/bead_fit.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

namespace {

/// Above this error a fit is nothing to go by, which the first line says.
constexpr double useless_rms = 0.2;

/// About two dozen rows, evenly over the points' list; the JSON has the figures, the file the points.
std::string point_rows(const BeadFit& fit) {
    std::string out = fmt::format("\n{:>12} {:>12} {:>12} {:>12} {:>12} {:>8}\n", "frequency", "R",
                                  "R fitted", "X", "X fitted", "error");
    std::vector<const BeadFitPoint*> used;
    for (const BeadFitPoint& p : fit.points)
        if (p.used()) used.push_back(&p);
    constexpr size_t most = 24;
    const size_t step = std::max<size_t>(1, (used.size() + most - 1) / most);
    for (size_t i = 0; i < used.size(); i += step) {
        const BeadFitPoint& p = *used[i];
        const auto ohm = [](double x) { return engineering(x, Dimension::resistance); };
        out += fmt::format("{:>12} {:>12} {:>12} {:>12} {:>12} {:>6.2f} %\n",
                           engineering(p.frequency_hz, Dimension::frequency), ohm(p.measured_ohm.real()),
                           ohm(p.fitted_ohm.real()), ohm(p.measured_ohm.imag()), ohm(p.fitted_ohm.imag()),
                           100 * p.relative_error);
    }
    return out;
}

}  // namespace

std::string bead_text(const BeadFit& fit, bool quiet) {
    std::string out = fit.rms_error > useless_rms ? "POOR FIT: " : "";
    out += fmt::format(
        "{} section{} over {} to {}: error {:.2g} % rms, {:.2g} % worst (at {}), {:.3g} % of the points "
        "within 5 %\n",
        fit.bead.sections.size(), fit.bead.sections.size() == 1 ? "" : "s",
        engineering(fit.band_low_hz, Dimension::frequency),
        engineering(fit.band_high_hz, Dimension::frequency), 100 * fit.rms_error, 100 * fit.worst_error,
        engineering(fit.worst_at_hz, Dimension::frequency), 100 * fit.share_within_5_percent);
    if (quiet) return out;
    out += fmt::format("points used {}, not passive and left out {}, outside the band {}\n\n",
                       fit.points_used, fit.points_not_passive, fit.points_outside_band);
    out += fmt::format("dc resistance {}, capacitance {}\n",
                       engineering(fit.bead.dc_resistance_ohm, Dimension::resistance),
                       engineering(fit.bead.capacitance_f, Dimension::capacitance));
    for (size_t k = 0; k < fit.bead.sections.size(); ++k)
        out += fmt::format("section {}: {} beside {}\n", k + 1,
                           engineering(fit.bead.sections[k].resistance_ohm, Dimension::resistance),
                           engineering(fit.bead.sections[k].inductance_h, Dimension::inductance));
    out += point_rows(fit);
    for (const BeadFitPoint& p : fit.points)
        if (p.in_band && !p.passive)
            out += fmt::format("left out: {} (R {}, not passive)\n",
                               engineering(p.frequency_hz, Dimension::frequency),
                               engineering(p.measured_ohm.real(), Dimension::resistance));
    for (const Warning& w : fit.warnings)
        out += fmt::format("warning: {}{}{}\n", w.key, w.key.empty() ? "" : ": ", w.text);
    return out;
}

Json internal::sections_value(const Bead& bead) {
    Json out = Json::array();
    for (const BeadSection& s : bead.sections)
        out.push_back({{"resistance_ohm", s.resistance_ohm}, {"inductance_h", s.inductance_h}});
    return out;
}

std::string bead_json(const BeadFit& fit, const std::string& file) {
    Json warnings = Json::array();
    for (const Warning& w : fit.warnings) warnings.push_back({{"key", w.key}, {"text", w.text}});
    return printed({{"ringquell", version},
                    {"verb", "bead"},
                    {"file", file},
                    {"sections", fit.bead.sections.size()},
                    {"rms_error", fit.rms_error},
                    {"worst_error", fit.worst_error},
                    {"worst_at_hz", fit.worst_at_hz},
                    {"share_within_5_percent", fit.share_within_5_percent},
                    {"points_used", fit.points_used},
                    {"points_not_passive", fit.points_not_passive},
                    {"points_outside_band", fit.points_outside_band},
                    {"band_hz", {fit.band_low_hz, fit.band_high_hz}},
                    {"dc_resistance_ohm", fit.bead.dc_resistance_ohm},
                    {"capacitance_f", fit.bead.capacitance_f},
                    {"elements", sections_value(fit.bead)},
                    {"warnings", warnings}});
}

std::string bead_part(const BeadFit& fit, const std::string& file) {
    std::string out = fmt::format("# Fitted to {}: {} to {}, {:.3g} % rms, {:.3g} % worst, {} points.\n",
                                  file, engineering(fit.band_low_hz, Dimension::frequency),
                                  engineering(fit.band_high_hz, Dimension::frequency), 100 * fit.rms_error,
                                  100 * fit.worst_error, fit.points_used);
    out +=
        fmt::format("dc_resistance: {}\n", write_quantity(fit.bead.dc_resistance_ohm, Dimension::resistance));
    out += fmt::format("capacitance: {}\nsections:\n",
                       write_quantity(fit.bead.capacitance_f, Dimension::capacitance));
    for (const BeadSection& s : fit.bead.sections)
        out += fmt::format("  - {{resistance: {}, inductance: {}}}\n",
                           write_quantity(s.resistance_ohm, Dimension::resistance),
                           write_quantity(s.inductance_h, Dimension::inductance));
    return out;
}

}  // namespace ringquell
