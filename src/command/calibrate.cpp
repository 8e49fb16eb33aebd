#include "ringquell/calibrate.h"

#include <fmt/format.h>

#include <cmath>
#include <memory>
#include <numbers>
#include <thread>

#include "command/command.h"
#include "ringquell/page.h"
#include "ringquell/read_case.h"
#include "ringquell/report.h"
#include "ringquell/write_case.h"

namespace ringquell::command {

namespace {

struct CalibrateArguments : CaseOptions {
    std::string output, page;
    std::vector<std::string> rings, at, between;
    std::int64_t samples = -1;
    int threads = 0;
    bool no_next = false;
};

/// Names records of the short form.
constexpr const char* short_key = "--ring";
constexpr const char* ring_expected =
    "frequency and decay as `87MHz:40ns`, `87MHz:3.5cycles` (to 1/e of the amplitude) or `87MHz:0.046` "
    "(damping ratio)";

std::pair<std::string, std::string> halves(const std::string& text, const std::string& key,
                                           const std::string& expected) {
    const size_t colon = text.find(':');
    if (colon == std::string::npos || colon == 0 || colon + 1 == text.size() ||
        text.find(':', colon + 1) != std::string::npos)
        throw InputError({}, key, fmt::format("found `{}`; expected {}", text, expected));
    return {text.substr(0, colon), text.substr(colon + 1)};
}

/// The damping ratio of a ring at f whose amplitude falls to 1/e in so long.
double damping_of(double frequency_hz, double decay_s) {
    const double sigma = 1 / decay_s, omega = 2 * std::numbers::pi * frequency_hz;
    return sigma / std::hypot(sigma, omega);
}

void read_ring(const std::string& text, BenchRecord& record) {
    const auto [frequency, decay] = halves(text, "--ring", ring_expected);
    record.kind = BenchRecord::Kind::ring;
    record.frequency_hz = parse_quantity(frequency, Dimension::frequency, {}, "--ring");
    if (record.frequency_hz <= 0)
        throw InputError({}, "--ring", fmt::format("found `{}`; expected a frequency above 0", frequency));
    const std::string cycles = "cycles";
    double decay_s = 0;
    if (decay.ends_with(cycles)) {
        const std::string count = decay.substr(0, decay.size() - cycles.size());
        decay_s = parse_quantity(count, Dimension::number, {}, "--ring") / record.frequency_hz;
    } else if (decay.find_first_not_of("0123456789.eE+-") == std::string::npos) {
        record.damping_ratio = parse_quantity(decay, Dimension::number, {}, "--ring");
        if (std::abs(record.damping_ratio) >= 1)
            throw InputError({}, "--ring",
                             fmt::format("found `{}`; expected a damping ratio between -1 and 1", decay));
        return;
    } else {
        decay_s = parse_quantity(decay, Dimension::time, {}, "--ring");
    }
    if (decay_s <= 0)
        throw InputError({}, "--ring", fmt::format("found `{}`; expected a decay above 0", decay));
    record.damping_ratio = damping_of(record.frequency_hz, decay_s);
}

/// The short form: a case, and rings as they were read off a screen.
BenchFile from_options(const CalibrateArguments& o, std::vector<std::string>& files_read) {
    if (o.at.size() != o.rings.size())
        throw InputError(
            {}, "--at",
            fmt::format("{} for {} `--ring`; expected the name of a point for each, such as `turn_on "
                        "current 9`, or `unpowered`",
                        o.at.empty() ? "missing" : fmt::format("found {}", o.at.size()), o.rings.size()));
    if (o.between.size() > 1 && o.between.size() != o.rings.size())
        throw InputError({}, "--between",
                         fmt::format("found {} for {} `--ring`; expected one for all, or one for each",
                                     o.between.size(), o.rings.size()));
    BenchFile out;
    out.file = out.case_file = o.file;
    out.input = read_case(o.file, o.settings, &files_read);
    for (size_t k = 0; k < o.rings.size(); ++k) {
        BenchRecord record;
        record.name = o.rings.size() == 1 ? "ring" : fmt::format("ring {}", k + 1);
        record.key = short_key;
        read_ring(o.rings[k], record);
        record.unpowered = o.at[k] == "unpowered";
        if (!record.unpowered) record.point = o.at[k];
        if (!o.between.empty())
            std::tie(record.from, record.to) =
                halves(o.between[o.between.size() == 1 ? 0 : k], "--between",
                       "two nodes, such as `gate pin[1]:gate pin[2]` (`check --network` names them)");
        out.records.push_back(std::move(record));
    }
    return out;
}

/// What is wrong with a record of the short form is wrong with an option.
Calibration calibrate_by_options(const BenchFile& bench, const CalibrateOptions& options) {
    try {
        return calibrate(bench.input, bench, options);
    } catch (const InputError& error) {
        const std::string& key = error.key();
        if (!key.starts_with(short_key)) throw;
        throw InputError({}, key.ends_with(".between") ? "--between" : "--at", error.text());
    }
}

int run_calibrate(const CalibrateArguments& o) {
    std::vector<std::string> files_read;
    const bool short_form = !o.rings.empty();
    if (!short_form && (!o.at.empty() || !o.between.empty()))
        throw InputError({}, o.at.empty() ? "--between" : "--at", "goes with `--ring`");
    if (o.samples == 0 || o.samples < -1)
        throw InputError({}, "--samples", fmt::format("is {}; expected 1 or more", o.samples));
    const BenchFile bench =
        short_form ? from_options(o, files_read) : read_bench(o.file, o.settings, &files_read);
    keep_apart({{"--output", o.output}, {"--page", o.page}, {"--json", o.json}}, files_read);
    CalibrateOptions options;
    options.next = !o.no_next;
    constexpr std::int64_t enough = 299;  // below, no share of 99 % can be shown
    options.samples = o.samples > 0 ? o.samples : o.output.empty() ? 0 : enough;
    options.threads = threads_of(o.threads);
    const Calibration found =
        short_form ? calibrate_by_options(bench, options) : calibrate(bench.input, bench, options);
    const bool write = !o.output.empty() && found.explained();
    if (write)
        write_output(o.output, fmt::format("# {}, calibrated by {}\n", bench.case_file,
                                           short_form ? "a ring" : bench.file) +
                                   write_case(found.calibrated));
    const std::string written = write ? o.output : "";
    std::string where;
    if (!o.page.empty()) {
        const std::string page = make_calibrate_page(bench.input, found, date_and_time());
        write_output(o.page, page);
        where = fmt::format("The page is {} ({} kB).\n", o.page, (page.size() + 999) / 1000);
    }
    if (o.output != "-" && o.page != "-")
        print_result(o, calibrate_text(found, written, o.quiet) + (o.quiet ? "" : where),
                     [&] { return calibrate_json(found, written); });
    else if (!o.json.empty())
        write_output(o.json, calibrate_json(found, written));
    return found.explained() ? passes : fails;
}

}  // namespace

void add_calibrate(CommandLine& line) {
    auto o = std::make_shared<CalibrateArguments>();
    Verb verb = line.verb("calibrate", "What a measurement says of the case, and what it settles");
    add_case_options(verb, *o);
    verb.option("--ring", o->rings,
                "A ring as read off a screen, with the case instead of a bench file: " +
                    std::string("87MHz:40ns, 87MHz:3.5cycles or 87MHz:0.046"))
        .type("F:DECAY");
    verb.option("--at", o->at, "The point of the path where it rang, or unpowered").type("POINT");
    verb.option("--between", o->between, "The nodes between which it was seen").type("A:B");
    add_file_option(verb, "-o,--output", o->output,
                    "Write the case with what is settled (- for standard output)");
    add_file_option(verb, "--page", o->page,
                    "Also write it as a page with plots (HTML; - for standard output)");
    verb.option("--samples", o->samples, "Samples of both pass shares (299 with -o)").type("N");
    verb.option("--threads", o->threads, "Threads for them (0: all)").type("N");
    verb.flag("--no-next", o->no_next, "Do not look for what to measure next");
    verb.footer(
        "Examples: ringquell calibrate bench.yaml -o calibrated.yaml --page bench.html\n"
        "          ringquell calibrate my-board.yaml --ring 87MHz:40ns --at \"turn_on current 9\"\n"
        "Exit status: 0 the records are explained, 1 nothing in the case rings like one of them.");
    verb.runs([o] { return run_calibrate(*o); });
}

}  // namespace ringquell::command
