#include "ringquell/report.h"

#include <fmt/format.h>

#include <memory>

#include "command/command.h"
#include "ringquell/page.h"
#include "ringquell/read_case.h"

namespace ringquell::command {

namespace {

struct ReportArguments : CaseOptions {
    std::string output, read;
    CompareOptions compare;
    std::int64_t samples = 2000;
    bool budget = false, no_budget = false;
};

int read_back(const ReportArguments& o) {
    for (const auto& [option, file] : {std::pair{"--output", &o.output}, std::pair{"--json", &o.json}})
        if (!file->empty())
            throw InputError({}, option, "writes nothing beside --read; expected one of the two");
    const PageRecord page =
        read_page(written_before(o.read, "--read", "a page that `ringquell report` has written"), o.read);
    std::string text = fmt::format("{}: made {} by ringquell {} from {}, hash {}: {}\n", o.read,
                                   page.made.empty() ? "at an unknown time" : page.made, page.version,
                                   page.file, page.hash, page.verdict);
    if (o.file.empty()) {
        write_output("-", text + "Name the case as well to learn whether it has changed since.\n");
        return passes;
    }
    const std::vector<std::string> changes = changed_since(page, read_case(o.file, o.settings));
    if (changes.empty()) {
        write_output("-", text + fmt::format("{} has not changed since.\n", o.file));
        return passes;
    }
    text += fmt::format("{} HAS CHANGED since the page was made:\n", o.file);
    constexpr size_t most = 40;
    for (size_t k = 0; k < std::min(most, changes.size()) && !o.quiet; ++k) text += "  " + changes[k] + "\n";
    if (changes.size() > most && !o.quiet) text += fmt::format("  and {} more\n", changes.size() - most);
    write_output("-", text);
    return fails;
}

int write_page(const ReportArguments& o) {
    if (o.file.empty()) throw InputError({}, "CASE", "missing; expected the case file, or --read FILE.html");
    if (o.output.empty())
        throw InputError({}, "--output", "missing; expected the page to write, such as `-o review.html`");
    if (o.samples < 0) throw InputError({}, "--samples", "expected a number of samples, or 0 for none");
    std::vector<std::string> files_read;
    const Case input = read_case(o.file, o.settings, &files_read);
    PageOptions options;
    options.beads = bead_candidates(input, o.compare, files_read);
    keep_apart({{"--output", o.output}, {"--json", o.json}}, files_read);
    options.switching_frequency_hz = switching_frequency_hz(o.compare);
    if (o.budget || o.no_budget) options.budget = o.budget;
    options.samples = o.samples;
    options.threads = threads_of(0);
    options.made = date_and_time();
    const Page page = make_page(input, options);
    write_output(o.output, page.html);
    if (o.output == "-") {
        if (!o.json.empty()) write_output(o.json, check_json(page.result));
    } else {
        const std::string where =
            fmt::format("The page is {} ({} kB).\n", o.output, (page.html.size() + 999) / 1000);
        print_result(o, check_text(page.result, true) + (o.quiet ? "" : where),
                     [&] { return check_json(page.result); });
    }
    return status_of(page.result.verdict);
}

}  // namespace

void add_report(CommandLine& line) {
    auto o = std::make_shared<ReportArguments>();
    Verb verb =
        line.verb("report", "All of it as one self-contained page with plots, to review, print and sign");
    add_case_options(verb, *o).required(false);
    add_file_option(verb, "-o,--output", o->output, "The page to write (HTML; - for standard output)");
    add_file_option(verb, "--read", o->read,
                    "Read a page back: when it was made, and whether CASE has changed since (status 1)");
    add_compare_options(verb, o->compare);
    verb.option("--samples", o->samples,
                "Samples of the case's tolerances, where it has any (default 2000; 0: none)")
        .type("N");
    verb.flag("--budget", o->budget,
              "Layout budget and passing values, too, where they take long (large uneven layouts)");
    verb.flag("--no-budget", o->no_budget, "Leave them out").excludes("--budget");
    verb.footer(
        "Example: ringquell report cases/ropeway-first.yaml --beads cases/parts -o review.html\n"
        "         ringquell report cases/ropeway-first.yaml --read review.html");
    verb.runs([o] { return o->read.empty() ? write_page(*o) : read_back(*o); });
}

}  // namespace ringquell::command
