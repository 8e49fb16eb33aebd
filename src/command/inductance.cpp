#include "ringquell/inductance.h"

#include <fmt/format.h>

#include <memory>
#include <nlohmann/json.hpp>

#include "command/command.h"
#include "ringquell/error.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell::command {

void add_inductance(CLI::App& app, Run& run) {
    struct Options {
        std::string shape, json;
        std::vector<std::string> dimensions;
        bool quiet = false;
    };
    auto o = std::make_shared<Options>();
    std::string shapes;
    for (const std::string& name : shape_names()) {
        std::string dimensions;
        for (const std::string& d : dimension_names(name)) dimensions += " " + d;
        shapes += fmt::format("  {}:{}\n", name, dimensions);
    }
    CLI::App* verb =
        app.add_subcommand("inductance", "One shape, one number, its source and its range of validity");
    verb->add_option("SHAPE", o->shape, "round_wire, flat_bar, over_plane, parallel_plates or via")
        ->required();
    verb->add_option("DIMENSIONS", o->dimensions, "length=2mm diameter=1mm ...")->type_name("NAME=VALUE");
    add_file_option(*verb, "--json", o->json,
                    "Write JSON to a file, or to standard output in place of the text (-)", "FILE|-");
    verb->add_flag("--quiet", o->quiet, "Print the number alone");
    verb->footer("Shapes and their dimensions:\n" + shapes +
                 "Example: ringquell inductance round_wire length=2mm diameter=1mm");
    verb->callback([o, &run] {
        run = [o] {
            std::map<std::string, double> dimensions;
            for (const std::string& text : o->dimensions) {
                const size_t equals = text.find('=');
                if (equals == std::string::npos)
                    throw InputError(
                        {}, "DIMENSIONS",
                        fmt::format("found `{}`; expected name=value such as `length=2mm`", text));
                const std::string name = text.substr(0, equals);
                const Dimension dimension = name == "count" ? Dimension::number : Dimension::length;
                if (!dimensions.emplace(name, parse_quantity(text.substr(equals + 1), dimension, {}, name))
                         .second)
                    throw InputError({}, name, "found twice; expected each dimension once");
            }
            keep_apart({{"--json", o->json}}, {});
            const Inductance result = inductance_of(shape_from(o->shape, dimensions));
            if (!o->json.empty())
                write_output(o->json, nlohmann::ordered_json{{"ringquell", version},
                                                             {"verb", "inductance"},
                                                             {"shape", o->shape},
                                                             {"dimensions_m", dimensions},
                                                             {"inductance_h", result.inductance_h},
                                                             {"formula", result.formula},
                                                             {"source", result.source},
                                                             {"validity", result.validity},
                                                             {"warnings", result.warnings}}
                                              .dump(1) +
                                          "\n");
            if (o->json == "-") return passes;
            std::string text = engineering(result.inductance_h, Dimension::inductance, 6) + "\n";
            if (!o->quiet) {
                text += fmt::format("formula: {}\nsource: {}\nholds: {}\n", result.formula, result.source,
                                    result.validity);
                for (const std::string& w : result.warnings) text += fmt::format("warning: {}\n", w);
            }
            write_output("-", text);
            return passes;
        };
    });
}

}  // namespace ringquell::command
