#include "ringquell/check.h"

#include <algorithm>
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <utility>

#include "command/command.h"
#include "command/variants.h"
#include "ringquell/check_many.h"
#include "ringquell/cure.h"
#include "ringquell/error.h"
#include "ringquell/network_echo.h"
#include "ringquell/report.h"

namespace ringquell::command {

namespace {

const std::map<std::string, Method> methods{{"automatic", Method::automatic},
                                            {"blocks", Method::blocks},
                                            {"whole", Method::whole},
                                            {"sparse", Method::sparse}};

struct CheckArguments : CaseOptions {
    std::vector<std::string> names, each;
    bool points = false, network = false, modes = false, no_size = false;
    int threads = 0;
    std::string method = "automatic", format = "text", plot = "auto";

    CheckOptions options() const {
        CheckOptions out;
        out.method = methods.at(method);
        out.size_gate_resistor = !no_size;
        return out;
    }
    bool many() const {
        std::error_code ignored;
        return names.size() > 1 || !each.empty() || std::filesystem::is_directory(names.front(), ignored);
    }
};

std::string file_name(const std::string& path) {
    return std::filesystem::path(path).filename().string();
}

int check_one(const CheckArguments& o) {
    if (o.threads != 0)
        throw InputError({}, "--threads",
                         "goes with several cases; one is judged on all processors where it pays");
    const Case input = read_apart(o);
    CheckResult result = check(input, o.options());
    add_first_cure(input, result);
    if (o.format != "text") {
        print_result(o, o.format == "md" ? check_markdown(result) : check_junit(result, file_name(o.file)),
                     [&] { return check_json(result); });
        return status_of(result.verdict);
    }
    const int columns = o.plot == "always" ? terminal_columns() : o.plot == "auto" ? plot_columns() : 0;
    std::string text = check_text(result, o.quiet, columns > 0 ? damping_plot(result, columns) : "");
    std::optional<NetworkEcho> echo;
    if (o.network && !result.points.empty()) echo = network_echo(input, result.points.front().point);
    if (o.modes) text = families_text(result) + text;
    if (o.points) text = points_text(result) + text;
    if (echo) text = network_text(*echo) + text;
    print_result(o, text, [&] { return check_json(result, echo ? &*echo : nullptr); });
    return status_of(result.verdict);
}

/// The worst of all: wrong input, then a failing case, then one without a verdict.
int status_of_all(const std::vector<CheckedCase>& cases) {
    int out = passes;
    const auto rank = [](int status) {
        return status == bad_input ? 3 : status == fails ? 2 : status == untrusted ? 1 : 0;
    };
    for (const CheckedCase& c : cases) {
        const int status = c.verdict ? status_of(*c.verdict) : c.wrong_input ? bad_input : untrusted;
        if (rank(status) > rank(out)) out = status;
    }
    return out;
}

int check_all(const CheckArguments& o) {
    const std::pair<const char*, bool> of_one[] = {
        {"--points", o.points}, {"--modes", o.modes}, {"--network", o.network}, {"--plot", o.plot != "auto"}};
    for (const auto& [option, given] : of_one)
        if (given) throw InputError({}, option, "goes with one case; found several, or a folder");
    const std::vector<CaseVariant> variants = variants_of(o.names, o.settings, o.each);
    std::vector<std::string> files;
    files.reserve(variants.size());
    for (const CaseVariant& v : variants) files.push_back(v.file);
    keep_apart({{"--json", o.json}}, files, "a case");
    std::function<std::string(const CaseVariant&, const CheckResult&)> document;
    if (o.format == "md")
        document = [](const CaseVariant&, const CheckResult& r) { return check_markdown(r); };
    if (o.format == "junit")
        document = [](const CaseVariant& v, const CheckResult& r) {
            std::string name = file_name(v.file);
            for (const std::string& s : v.settings) name += ", " + s;
            return check_junit_suite(r, name);
        };
    const std::vector<CheckedCase> cases = check_many(variants, o.options(), threads_of(o.threads), document);
    for (const CheckedCase& c : cases) keep_apart({{"--json", o.json}}, c.files_read, "a case");
    print_result(o,
                 o.format == "md"      ? cases_markdown(cases)
                 : o.format == "junit" ? cases_junit(cases)
                                       : cases_text(cases, o.quiet),
                 [&] { return cases_json(cases); });
    return status_of_all(cases);
}

}  // namespace

void add_check(CommandLine& line) {
    auto o = std::make_shared<CheckArguments>();
    Verb verb = line.verb(
        "check", "Does the case pass: verdict, worst modes, gate resistance; of several cases, a table");
    verb.option("CASE", o->names, "The case file (YAML); several, or a folder of them: a table").required();
    add_common_options(verb, *o);
    verb.option("--each", o->each,
                "Make variants of one case: key=value,value,...; repeatable, then every combination")
        .type("KEY=VALUES")
        .repeatable();
    verb.flag("--no-size", o->no_size, "Leave out the search for the gate resistor (faster)");
    verb.option("--threads", o->threads, "Of several cases: on how many processors (default: all)")
        .not_negative();
    verb.flag("--points", o->points, "List every operating point with the device values that were used");
    verb.flag("--modes", o->modes,
              "List the modes by name as they go along the path, with what crosses, meets or ends");
    verb.flag("--network", o->network,
              "Print what is joined to what, with values, loop inductances and couplings");
    verb.option("--method", o->method, "How to solve: automatic, blocks, whole or sparse")
        .one_of({"automatic", "blocks", "whole", "sparse"});
    verb.option("--format", o->format, "text, md (a checklist in Markdown) or junit (XML for a build server)")
        .one_of({"text", "md", "junit"});
    verb.option(
            "--plot", o->plot,
            "Damping along the path as a small plot: auto (in a terminal that shows UTF-8), always or never")
        .one_of({"auto", "always", "never"});
    verb.footer(
        "Example: ringquell check cases/ropeway-first.yaml --set gate_path.resistor=10ohm --json "
        "result.json\n         ringquell check cases/ropeway-first.yaml --each "
        "gate_path.resistor=5ohm,10ohm,15ohm");
    verb.runs([o] {
        o->file = o->names.front();
        return o->many() ? check_all(*o) : check_one(*o);
    });
}

}  // namespace ringquell::command
