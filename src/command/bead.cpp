#include <fmt/format.h>

#include <memory>

#include "command/command.h"
#include "ringquell/bead_fit.h"
#include "ringquell/error.h"
#include "ringquell/impedance_file.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell::command {

namespace {

BeadFit fit_file(const std::string& file, const BeadFitOptions& options) {
    std::vector<Warning> warnings;
    const std::vector<ImpedancePoint> points = read_impedance_file(file, &warnings);
    BeadFit fit = fit_bead(points, options);
    for (Warning& w : short_of_band(points, options.band_low_hz, options.band_high_hz, "--band"))
        warnings.push_back(std::move(w));
    fit.warnings.insert(fit.warnings.begin(), warnings.begin(), warnings.end());
    return fit;
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

struct BeadArguments {
    std::string file, band = "1MHz:100MHz", json, output, dc_resistance;
    bool quiet = false;
};

int run_bead(const BeadArguments& o) {
    BeadFitOptions options;
    std::tie(options.band_low_hz, options.band_high_hz) = parse_band(o.band);
    options.place.file = o.file;
    if (!o.dc_resistance.empty())
        options.dc_resistance_ohm =
            parse_quantity(o.dc_resistance, Dimension::resistance, {}, "--dc-resistance");
    keep_apart({{"--output", o.output}, {"--json", o.json}}, {o.file}, "the measured curve");
    const BeadFit fit = fit_file(o.file, options);
    if (!o.output.empty()) write_output(o.output, bead_part(fit, o.file));
    if (!o.json.empty()) write_output(o.json, bead_json(fit, o.file));
    if (o.json != "-") write_output("-", bead_text(fit, o.quiet));
    return passes;
}

}  // namespace

void add_bead(CommandLine& line) {
    auto o = std::make_shared<BeadArguments>();
    Verb verb = line.verb("bead", "Fit a measured bead by passive sections and show the fit");
    verb.option("FILE", o->file, "Impedance against frequency: CSV, or a one-port Touchstone file")
        .required();
    verb.option("--band", o->band, "Band of the fit").type("LOW:HIGH").show_default();
    verb.option("--dc-resistance", o->dc_resistance, "Known DC resistance; fitted where it is not given")
        .type("VALUE");
    add_file_option(verb, "-o,--output", o->output,
                    "Write the fit as a part file that a case names with `bead: {file: ...}`");
    add_file_option(verb, "--json", o->json,
                    "Write the figures as JSON to a file, or to standard output in place of the table (-)",
                    "FILE|-");
    verb.flag("--quiet", o->quiet, "Print the first line alone");
    verb.footer("Example: ringquell bead measured.s1p --band 1MHz:100MHz -o parts/bead.yaml");
    verb.runs([o] { return run_bead(*o); });
}

}  // namespace ringquell::command
