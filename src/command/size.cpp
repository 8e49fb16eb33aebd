#include <memory>

#include "command/command.h"
#include "ringquell/check.h"
#include "ringquell/numbers.h"
#include "ringquell/report.h"
#include "ringquell/vary.h"

namespace ringquell::command {

void add_size(CommandLine& line) {
    struct Options : CaseOptions {
        std::vector<std::string> vary;
        std::string from, to;
        bool budget = false;
        bool all_kinds = false, complete = false;
    };
    auto o = std::make_shared<Options>();
    Verb verb = line.verb(
        "size", "Which values of a parameter are acceptable: the gate resistor, or any number of the case");
    add_case_options(verb, *o);
    verb.option("--vary", o->vary,
                "The number to vary, such as source_path.inductance or gate_path[2].inductance; several "
                "move together")
        .type("KEY")
        .repeatable();
    verb.option("--from", o->from, "Lowest value searched, with its unit").type("VALUE");
    verb.option("--to", o->to, "Highest value searched, with its unit").type("VALUE");
    verb.flag("--budget", o->budget, "A table of every layout number: now, allowed range, what limits it");
    verb.flag("--complete", o->complete,
              "Find every bound of an uneven layout, however long it takes (by default: where it takes a "
              "minute at most)");
    verb.flag("--common-too", o->all_kinds, "Judge the common modes as well as the differential ones");
    verb.footer("Example: ringquell size cases/ropeway-first.yaml --vary source_path.inductance --to 20nH");
    verb.runs([o] {
        Case input = read_apart(*o);
        if (o->vary.empty() && !o->budget) {
            if (!o->from.empty() || !o->to.empty())
                throw InputError(
                    {}, "--from/--to",
                    "needs --vary; the gate resistor is searched up to require.gate_resistance_limit");
            CheckOptions options;
            options.effort = o->complete ? Effort::complete : Effort::thorough;
            options.follow_modes = options.gain_margin = false;
            const CheckResult result = check(input, options);
            print_result(*o, size_text(result, o->quiet), [&] { return size_json(result); });
            return passes;
        }
        VaryOptions options;
        if (o->all_kinds) options.common_too = true;
        if (o->budget) {
            std::vector<Varied> budget;
            for (const std::string& key : layout_keys(input))
                budget.push_back(acceptable_values(input, {key}, options));
            print_result(*o, budget_text(budget) + (o->quiet ? "" : std::string("\n") + caution),
                         [&] { return budget_json(budget); });
            return passes;
        }
        const Dimension dimension = find_number(input, o->vary.front()).dimension;
        if (!o->from.empty()) options.from = parse_quantity(o->from, dimension, {}, "--from");
        if (!o->to.empty()) options.to = parse_quantity(o->to, dimension, {}, "--to");
        const Varied varied = acceptable_values(input, o->vary, options);
        print_result(*o, vary_text(varied) + (o->quiet ? "" : std::string("\n") + caution),
                     [&] { return vary_json(varied); });
        return passes;
    });
}

}  // namespace ringquell::command
