#include "ringquell/explain.h"

#include <memory>

#include "command/command.h"
#include "ringquell/report.h"

namespace ringquell::command {

void add_explain(CommandLine& line) {
    struct Options : CaseOptions {
        bool no_passing_values = false;
    };
    auto o = std::make_shared<Options>();
    Verb verb = line.verb(
        "explain", "Why: what each element does in the worst modes, and what it alone would have to be");
    add_case_options(verb, *o);
    verb.flag("--no-passing-values", o->no_passing_values,
              "Leave out the column of values that would pass (faster)");
    verb.footer("Example: ringquell explain cases/ropeway-first.yaml");
    verb.runs([o] {
        const Explanation explanation = explain(read_apart(*o), {!o->no_passing_values});
        print_result(*o, explain_text(explanation, o->quiet), [&] { return explain_json(explanation); });
        return passes;
    });
}

}  // namespace ringquell::command
