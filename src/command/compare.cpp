#include "ringquell/compare.h"

#include <memory>

#include "command/command.h"
#include "ringquell/read_case.h"
#include "ringquell/report.h"

namespace ringquell::command {

void add_compare(CommandLine& line) {
    struct CompareCases : CaseOptions {
        std::string other;
    };
    auto o = std::make_shared<CompareCases>();
    Verb verb = line.verb("compare", "Two cases: what differs in input and result, and which input did it");
    verb.option("A", o->file, "A case file (YAML)").required();
    verb.option("B", o->other, "Another one").required();
    add_common_options(verb, *o);
    verb.footer("Example: ringquell compare cases/ropeway-first.yaml cases/ropeway-cured.yaml");
    verb.runs([o] {
        std::vector<std::string> files_read;
        const Case a = read_case(o->file, o->settings, &files_read),
                   b = read_case(o->other, o->settings, &files_read);
        keep_apart({{"--json", o->json}}, files_read, "a case");
        const Comparison comparison = compare(a, b);
        print_result(*o, compare_text(comparison, o->quiet), [&] { return compare_json(comparison); });
        return static_cast<int>(passes);
    });
}

}  // namespace ringquell::command
