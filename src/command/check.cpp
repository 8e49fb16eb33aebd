#include "ringquell/check.h"

#include <filesystem>
#include <map>
#include <memory>

#include "command/command.h"
#include "ringquell/network_echo.h"
#include "ringquell/report.h"

namespace ringquell::command {

namespace {

const std::map<std::string, Method> methods{{"automatic", Method::automatic},
                                            {"blocks", Method::blocks},
                                            {"whole", Method::whole},
                                            {"sparse", Method::sparse}};

}  // namespace

void add_check(CommandLine& line) {
    struct Options : CaseOptions {
        bool points = false;
        bool network = false;
        bool modes = false;
        std::string method = "automatic", format = "text", plot = "auto";
    };
    auto o = std::make_shared<Options>();
    Verb verb = line.verb("check", "Does the case pass: verdict, worst modes, gate resistance");
    add_case_options(verb, *o);
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
        "result.json");
    verb.runs([o] {
        const Case input = read_apart(*o);
        CheckOptions options;
        options.method = methods.at(o->method);
        const CheckResult result = check(input, options);
        if (o->format != "text") {
            const std::string name = std::filesystem::path(o->file).filename().string();
            print_result(*o, o->format == "md" ? check_markdown(result) : check_junit(result, name),
                         [&] { return check_json(result); });
            return status_of(result.verdict);
        }
        const int columns = o->plot == "always" ? terminal_columns() : o->plot == "auto" ? plot_columns() : 0;
        std::string text = check_text(result, o->quiet, columns > 0 ? damping_plot(result, columns) : "");
        std::optional<NetworkEcho> echo;
        if (o->network && !result.points.empty()) echo = network_echo(input, result.points.front().point);
        if (o->modes) text = families_text(result) + text;
        if (o->points) text = points_text(result) + text;
        if (echo) text = network_text(*echo) + text;
        print_result(*o, text, [&] { return check_json(result, echo ? &*echo : nullptr); });
        return status_of(result.verdict);
    });
}

}  // namespace ringquell::command
