#include "ringquell/compare.h"

#include <fmt/format.h>

#include <memory>

#include "command/command.h"
#include "ringquell/page.h"
#include "ringquell/read_case.h"
#include "ringquell/report.h"

namespace ringquell::command {

void add_compare(CommandLine& line) {
    struct CompareCases : CaseOptions {
        std::string other, output;
    };
    auto o = std::make_shared<CompareCases>();
    Verb verb = line.verb("compare", "Two cases: what differs in input and result, and which input did it");
    verb.option("A", o->file, "A case file (YAML)").required();
    verb.option("B", o->other, "Another one").required();
    add_common_options(verb, *o);
    add_file_option(verb, "-o,--output", o->output,
                    "Also write it as a page with plots (HTML; - for standard output)");
    verb.footer(
        "Example: ringquell compare cases/ropeway-first.yaml cases/ropeway-cured.yaml\n"
        "         ringquell compare cases/ropeway-first.yaml cases/ropeway-cured.yaml -o a-and-b.html");
    verb.runs([o] {
        std::vector<std::string> files_read;
        const Case a = read_case(o->file, o->settings, &files_read),
                   b = read_case(o->other, o->settings, &files_read);
        keep_apart({{"--output", o->output}, {"--json", o->json}}, files_read, "a case");
        const Comparison comparison = compare(a, b);
        std::string where;
        if (!o->output.empty()) {
            const std::string page = make_compare_page(a, b, comparison, date_and_time());
            write_output(o->output, page);
            where = fmt::format("The page is {} ({} kB).\n", o->output, (page.size() + 999) / 1000);
        }
        if (o->output != "-")
            print_result(*o, compare_text(comparison, o->quiet) + (o->quiet ? "" : where),
                         [&] { return compare_json(comparison); });
        else if (!o->json.empty())
            write_output(o->json, compare_json(comparison));
        return static_cast<int>(passes);
    });
}

}  // namespace ringquell::command
