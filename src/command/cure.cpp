#include "ringquell/cure.h"

#include <fmt/format.h>

#include <algorithm>
#include <memory>

#include "command/command.h"
#include "ringquell/read_case.h"
#include "ringquell/report.h"
#include "ringquell/write_case.h"

namespace ringquell::command {

namespace {

struct CureArguments : CaseOptions {
    CompareOptions compare;
    std::string output;
    int option = 1;
};

/// The cured case as a file, its first line saying what it is.
std::string cured_file(const CureArguments& o, const Cure& cure, const Case& input) {
    if (cure.options.empty()) return write_case(input);
    const CureOption& chosen = cure.options[static_cast<size_t>(o.option) - 1];
    std::string out = fmt::format("# {}, cured:", o.file);
    for (const CureChange& c : chosen.changes) out += fmt::format(" {} {};", c.key, c.to);
    out.back() = '\n';
    return out + write_case(chosen.cured);
}

int run_cure(const CureArguments& o) {
    std::vector<std::string> files_read;
    const Case input = read_case(o.file, o.settings, &files_read);
    if (o.option < 1) throw InputError({}, "--option", "expected the number of a row of the table, from 1");
    if (o.option > 1 && o.output.empty())
        throw InputError({}, "--option", "goes with `-o FILE`, which the row is written to");
    CureOptions options;
    options.switching_frequency_hz = switching_frequency_hz(o.compare);
    options.beads = bead_candidates(input, o.compare, files_read);
    keep_apart({{"--output", o.output}, {"--json", o.json}}, files_read);
    const Cure cure = find_cure(input, options);
    const bool passing = cure.before.verdict == Verdict::pass;
    const bool write = !o.output.empty() && (passing || !cure.options.empty());
    if (write) {
        const size_t rows = std::max<size_t>(1, cure.options.size());
        if (static_cast<size_t>(o.option) > rows)
            throw InputError({}, "--option", fmt::format("is {}, but the table has {} rows", o.option, rows));
        write_output(o.output, cured_file(o, cure, input));
    }
    const std::string written = write ? o.output : "";
    if (o.output != "-")
        print_result(o, cure_text(cure, written, o.quiet), [&] { return cure_json(cure, written); });
    else if (!o.json.empty())
        write_output(o.json, cure_json(cure, written));
    return passing || !cure.options.empty() ? passes : fails;
}

}  // namespace

void add_cure(CommandLine& line) {
    auto o = std::make_shared<CureArguments>();
    Verb verb = line.verb("cure", "The least intrusive changes that pass, ranked by their price");
    add_case_options(verb, *o);
    add_compare_options(verb, o->compare);
    add_file_option(verb, "-o,--output", o->output,
                    "Write the case with the first cure (- for standard output)");
    verb.option("--option", o->option, "Write that of this row instead").type("N");
    verb.footer(
        "Example: ringquell cure cases/sawmill-row.yaml -o cured.yaml\n"
        "Exit status: 0 it passes or a cure was found, 1 none was found.");
    verb.runs([o] { return run_cure(*o); });
}

}  // namespace ringquell::command
