#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <nlohmann/json.hpp>

#include "command/command.h"
#include "ringquell/bead_fit.h"
#include "ringquell/error.h"
#include "ringquell/impedance_file.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell::command {

namespace {

/// Above this error a fit is nothing to go by, which the first line says.
constexpr double useless_rms = 0.2;

BeadFit fit_file(const std::string& file, const BeadFitOptions& options) {
    std::vector<Warning> warnings;
    const std::vector<ImpedancePoint> points = read_impedance_file(file, &warnings);
    BeadFit fit = fit_bead(points, options);
    for (Warning& w : short_of_band(points, options.band_low_hz, options.band_high_hz, "--band"))
        warnings.push_back(std::move(w));
    fit.warnings.insert(fit.warnings.begin(), warnings.begin(), warnings.end());
    return fit;
}

std::string table(const BeadFit& fit) {
    std::string out = fit.rms_error > useless_rms ? "POOR FIT: " : "";
    out += fmt::format(
        "{} section{} over {} to {}: error {:.2g} % rms, {:.2g} % worst (at {}), {:.3g} % of the points "
        "within 5 %\n",
        fit.bead.sections.size(), fit.bead.sections.size() == 1 ? "" : "s",
        engineering(fit.band_low_hz, Dimension::frequency),
        engineering(fit.band_high_hz, Dimension::frequency), 100 * fit.rms_error, 100 * fit.worst_error,
        engineering(fit.worst_at_hz, Dimension::frequency), 100 * fit.share_within_5_percent);
    out += fmt::format("points used {}, not passive and left out {}, outside the band {}\n\n",
                       fit.points_used, fit.points_not_passive, fit.points_outside_band);
    out += fmt::format("dc resistance {}, capacitance {}\n",
                       engineering(fit.bead.dc_resistance_ohm, Dimension::resistance),
                       engineering(fit.bead.capacitance_f, Dimension::capacitance));
    for (size_t k = 0; k < fit.bead.sections.size(); ++k)
        out += fmt::format("section {}: {} beside {}\n", k + 1,
                           engineering(fit.bead.sections[k].resistance_ohm, Dimension::resistance),
                           engineering(fit.bead.sections[k].inductance_h, Dimension::inductance));
    out += fmt::format("\n{:>12} {:>12} {:>12} {:>12} {:>12} {:>8}\n", "frequency", "R", "R fitted", "X",
                       "X fitted", "error");
    std::vector<const BeadFitPoint*> used;
    for (const BeadFitPoint& p : fit.points)
        if (p.used()) used.push_back(&p);
    // About two dozen rows, evenly over the points' list; the JSON has the figures, the file the points.
    constexpr size_t rows = 24;
    const size_t step = std::max<size_t>(1, (used.size() + rows - 1) / rows);
    for (size_t i = 0; i < used.size(); i += step) {
        const BeadFitPoint& p = *used[i];
        const auto ohm = [](double x) { return engineering(x, Dimension::resistance); };
        out += fmt::format("{:>12} {:>12} {:>12} {:>12} {:>12} {:>6.2f} %\n",
                           engineering(p.frequency_hz, Dimension::frequency), ohm(p.measured_ohm.real()),
                           ohm(p.fitted_ohm.real()), ohm(p.measured_ohm.imag()), ohm(p.fitted_ohm.imag()),
                           100 * p.relative_error);
    }
    for (const BeadFitPoint& p : fit.points)
        if (p.in_band && !p.passive)
            out += fmt::format("left out: {} (R {}, not passive)\n",
                               engineering(p.frequency_hz, Dimension::frequency),
                               engineering(p.measured_ohm.real(), Dimension::resistance));
    for (const Warning& w : fit.warnings)
        out += fmt::format("warning: {}{}{}\n", w.key, w.key.empty() ? "" : ": ", w.text);
    return out;
}

std::string json(const BeadFit& fit, const std::string& file) {
    nlohmann::ordered_json sections = nlohmann::ordered_json::array(), warnings = sections;
    for (const BeadSection& s : fit.bead.sections)
        sections.push_back({{"resistance_ohm", s.resistance_ohm}, {"inductance_h", s.inductance_h}});
    for (const Warning& w : fit.warnings) warnings.push_back({{"key", w.key}, {"text", w.text}});
    return nlohmann::ordered_json{{"ringquell", version},
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
                                  {"elements", sections},
                                  {"warnings", warnings}}
               .dump(1) +
           "\n";
}

std::string part_file(const BeadFit& fit, const std::string& file) {
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

/// "1MHz:100MHz"
std::pair<double, double> parse_band(const std::string& text) {
    const size_t colon = text.find(':');
    if (colon == std::string::npos)
        throw InputError({}, "--band",
                         fmt::format("found `{}`; expected two frequencies such as `1MHz:100MHz`", text));
    const double low = parse_quantity(text.substr(0, colon), Dimension::frequency, {}, "--band");
    const double high = parse_quantity(text.substr(colon + 1), Dimension::frequency, {}, "--band");
    if (!(0 < low && low < high))
        throw InputError({}, "--band",
                         fmt::format("found `{}`; expected the lower frequency first, above zero", text));
    return {low, high};
}

}  // namespace

void add_bead(CLI::App& app, Run& run) {
    struct Options {
        std::string file, band = "1MHz:100MHz", json, output, dc_resistance;
        bool quiet = false;
    };
    auto o = std::make_shared<Options>();
    CLI::App* verb = app.add_subcommand("bead", "Fit a measured bead by passive sections and show the fit");
    verb->add_option("FILE", o->file, "Impedance against frequency: CSV, or a one-port Touchstone file")
        ->required();
    verb->add_option("--band", o->band, "Band of the fit")->type_name("LOW:HIGH")->capture_default_str();
    verb->add_option("--dc-resistance", o->dc_resistance, "Known DC resistance; fitted where it is not given")
        ->type_name("VALUE");
    add_file_option(*verb, "-o,--output", o->output,
                    "Write the fit as a part file that a case names with `bead: {file: ...}`");
    add_file_option(*verb, "--json", o->json,
                    "Write the figures as JSON to a file, or to standard output in place of the table (-)",
                    "FILE|-");
    verb->add_flag("--quiet", o->quiet, "Print the first line alone");
    verb->footer("Example: ringquell bead measured.s1p --band 1MHz:100MHz -o parts/bead.yaml");
    verb->callback([o, &run] {
        run = [o] {
            BeadFitOptions options;
            std::tie(options.band_low_hz, options.band_high_hz) = parse_band(o->band);
            options.place.file = o->file;
            if (!o->dc_resistance.empty())
                options.dc_resistance_ohm =
                    parse_quantity(o->dc_resistance, Dimension::resistance, {}, "--dc-resistance");
            keep_apart({{"--output", o->output}, {"--json", o->json}}, {o->file}, "the measured curve");
            const BeadFit fit = fit_file(o->file, options);
            if (!o->output.empty()) write_output(o->output, part_file(fit, o->file));
            if (!o->json.empty()) write_output(o->json, json(fit, o->file));
            if (o->json != "-") {
                const std::string text = table(fit);
                write_output("-", o->quiet ? text.substr(0, text.find('\n') + 1) : text);
            }
            return passes;
        };
    });
}

}  // namespace ringquell::command
