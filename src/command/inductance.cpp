#include "ringquell/inductance.h"

#include <fmt/format.h>

#include <map>
#include <memory>

#include "command/command.h"
#include "ringquell/error.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell::command {

namespace {

struct InductanceArguments {
    std::string shape, json;
    std::vector<std::string> dimensions;
    bool quiet = false;
};

std::map<std::string, double> parse_dimensions(const std::vector<std::string>& texts) {
    std::map<std::string, double> out;
    for (const std::string& text : texts) {
        const size_t equals = text.find('=');
        if (equals == std::string::npos)
            throw InputError({}, "DIMENSIONS",
                             fmt::format("found `{}`; expected name=value such as `length=2mm`", text));
        const std::string name = text.substr(0, equals);
        const Dimension dimension = name == "count" ? Dimension::number : Dimension::length;
        if (!out.emplace(name, parse_quantity(text.substr(equals + 1), dimension, {}, name)).second)
            throw InputError({}, name, "found twice; expected each dimension once");
    }
    return out;
}

int run_inductance(const InductanceArguments& o) {
    const std::map<std::string, double> dimensions = parse_dimensions(o.dimensions);
    keep_apart({{"--json", o.json}}, {});
    const Inductance result = inductance_of(shape_from(o.shape, dimensions));
    if (!o.json.empty()) write_output(o.json, inductance_json(o.shape, dimensions, result));
    if (o.json != "-") write_output("-", inductance_text(result, o.quiet));
    return passes;
}

}  // namespace

void add_inductance(CommandLine& line) {
    auto o = std::make_shared<InductanceArguments>();
    std::string shapes;
    for (const std::string& name : shape_names()) {
        std::string dimensions;
        for (const std::string& d : dimension_names(name)) dimensions += " " + d;
        shapes += fmt::format("  {}:{}\n", name, dimensions);
    }
    Verb verb = line.verb("inductance", "One shape, one number, its source and its range of validity");
    verb.option("SHAPE", o->shape, "round_wire, flat_bar, over_plane, parallel_plates or via").required();
    verb.option("DIMENSIONS", o->dimensions, "length=2mm diameter=1mm ...").type("NAME=VALUE");
    add_file_option(verb, "--json", o->json,
                    "Write JSON to a file, or to standard output in place of the text (-)", "FILE|-");
    verb.flag("--quiet", o->quiet, "Print the number alone");
    verb.footer("Shapes and their dimensions:\n" + shapes +
                "Example: ringquell inductance round_wire length=2mm diameter=1mm");
    verb.runs([o] { return run_inductance(*o); });
}

}  // namespace ringquell::command
