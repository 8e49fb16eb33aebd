#include <fmt/format.h>

#include <cmath>
#include <filesystem>
#include <memory>

#include "base/nearest.h"
#include "command/command.h"
#include "ringquell/network.h"
#include "ringquell/operating_path.h"
#include "ringquell/ports.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"
#include "ringquell/state_space.h"

namespace ringquell::command {

namespace {

/// NIST Matrix Market exchange format, coordinate form (Boisvert, Pozo & Remington, NISTIR 5935, 1996):
/// 1-based, entries by column.
std::string matrix_market(const Eigen::SparseMatrix<double>& m, const std::string& comment) {
    std::string out = "%%MatrixMarket matrix coordinate real general\n" + comment;
    out += fmt::format("{} {} {}\n", m.rows(), m.cols(), m.nonZeros());
    for (int j = 0; j < m.outerSize(); ++j)
        for (Eigen::SparseMatrix<double>::InnerIterator it(m, j); it; ++it)
            out += fmt::format("{} {} {:.17g}\n", it.row() + 1, it.col() + 1, it.value());
    return out;
}

std::string names(const std::string& title, const std::vector<std::string>& list) {
    std::string out = fmt::format("% {}\n", title);
    for (size_t i = 0; i < list.size(); ++i) out += fmt::format("% {}: {}\n", i + 1, list[i]);
    return out;
}

struct ExportArguments : CaseOptions {
    std::string point;
    std::string folder;
    std::vector<std::string> ports;
    std::string touchstone, at = "unpowered", driver = "pull_down", from = "1 MHz", to = "1 GHz";
    int points = 401;
};

/// The point of that name, or the first one where none is named.
const OperatingPoint& named_point(const OperatingPath& path, const std::string& name, const char* option) {
    std::vector<std::string> known;
    for (const OperatingPoint& p : path.points) {
        if (name.empty() || p.name == name) return p;
        known.push_back(p.name);
    }
    if (known.empty()) throw InputError({}, option, "the case has no operating point");
    constexpr size_t few = 12;
    const std::string all = known.size() <= few
                                ? fmt::format("; expected one of `{}`", fmt::join(known, "`, `"))
                                : fmt::format("; `check --points` lists all {}", known.size());
    throw InputError({}, option,
                     fmt::format("found `{}`{}", name, internal::suggestion_or(name, known, all)));
}

void make_folder(const std::string& folder) {
    std::error_code error;
    std::filesystem::create_directories(folder, error);
    if (error || !std::filesystem::is_directory(folder))
        throw InputError({folder}, "", "could not be created; expected a folder that may be written to");
}

int run_export(const ExportArguments& o) {
    const std::string e_file = o.folder + "/E.mtx", a_file = o.folder + "/A.mtx",
                      explicit_file = o.folder + "/A_explicit.mtx";
    const Case input =
        read_apart(o, {{"--output", e_file}, {"--output", a_file}, {"--output", explicit_file}});
    const OperatingPath path = operating_path(input);
    const OperatingPoint& point = named_point(path, o.point, "--point");
    const Network network = build_network(input, point);
    const StateSpace explicit_form = state_space(network);
    std::vector<std::string> unknowns;
    for (const Unknown& u : network.unknowns) unknowns.push_back(u.name);
    const std::string origin =
        fmt::format("% {}, operating point \"{}\"; SI units: V, A, s\n", o.file, point.name);
    make_folder(o.folder);
    const std::string rows = names("unknowns, in order", unknowns);
    write_output(e_file, matrix_market(network.e(), origin + "% E of E dx/dt = A x\n" + rows));
    write_output(a_file, matrix_market(network.a(), origin + "% A of E dx/dt = A x\n" + rows));
    const std::string about = fmt::format(
        "% A of dx/dt = A x; {} eigenvalues are zero by structure; "
        "condition of what was inverted {:.2g}\n",
        explicit_form.structural_zeros, explicit_form.condition);
    write_output(explicit_file,
                 matrix_market(explicit_form.a.sparseView(),
                               origin + about + names("states, in order", explicit_form.states)));
    write_output("-", fmt::format("Wrote E ({0} x {0}), A and the explicit A ({1} x {1}, {2} "
                                  "structural zeros) of \"{3}\" to {4}\n",
                                  network.size(), explicit_form.a.rows(), explicit_form.structural_zeros,
                                  point.name, o.folder));
    return passes;
}

PortNodes named_ports(const std::vector<std::string>& texts) {
    PortNodes out;
    for (const std::string& text : texts) {
        const size_t colon = text.find(':');
        if (colon == std::string::npos || colon == 0 || colon + 1 == text.size() ||
            text.find(':', colon + 1) != std::string::npos)
            throw InputError(
                {}, "--port",
                fmt::format("found `{}`; expected two nodes, such as `gate pin[1]:Kelvin pin[1]`", text));
        out.emplace_back(text.substr(0, colon), text.substr(colon + 1));
    }
    return out;
}

/// Equal steps of the logarithm, both ends included.
std::vector<double> frequencies(const ExportArguments& o) {
    const double from = parse_quantity(o.from, Dimension::frequency, {}, "--from"),
                 to = parse_quantity(o.to, Dimension::frequency, {}, "--to");
    constexpr int most = 100000;
    if (!(from > 0)) throw InputError({}, "--from", "expected a frequency above zero");
    if (!(to > from)) throw InputError({}, "--to", "expected a frequency above --from");
    if (o.points < 2 || o.points > most)
        throw InputError({}, "--points", fmt::format("found {}; expected 2 to {}", o.points, most));
    std::vector<double> out;
    out.reserve(static_cast<size_t>(o.points));
    for (int k = 0; k < o.points; ++k) out.push_back(from * std::pow(to / from, k / (o.points - 1.0)));
    out.back() = to;
    return out;
}

int run_ports(const ExportArguments& o) {
    if (o.ports.empty()) throw InputError({}, "--port", "missing; expected two nodes for each port");
    if (!o.folder.empty() || !o.point.empty())
        throw InputError({}, "--touchstone", "goes with --port and --at, not with --output and --point");
    const std::string ending = fmt::format(".s{}p", o.ports.size());
    if (!o.touchstone.ends_with(ending) && o.touchstone != "-")
        throw InputError(
            {}, "--touchstone",
            fmt::format("found `{}`; expected a name that ends in `{}`, as many as there are ports",
                        o.touchstone, ending));
    const PortNodes ports = named_ports(o.ports);
    const std::vector<double> hz = frequencies(o);
    Case input = read_apart(o, {{"--touchstone", o.touchstone}});
    if (o.driver == "high_impedance") input.driver.pull_down_resistance_ohm = unsupplied_driver_ohm;
    const OperatingPoint point =
        o.at == "unpowered" ? unpowered_point(input) : named_point(operating_path(input), o.at, "--at");
    write_output(o.touchstone, touchstone_text(scattering(input, point, ports, hz), o.file));
    if (o.touchstone != "-")
        write_output("-", fmt::format("Wrote {} of {} at \"{}\", {} frequencies, to {}\n",
                                      ports.size() == 1 ? "1 port" : fmt::format("{} ports", ports.size()),
                                      o.file, point.name, hz.size(), o.touchstone));
    return passes;
}

}  // namespace

void add_export(CommandLine& line) {
    auto o = std::make_shared<ExportArguments>();
    Verb verb = line.verb("export",
                          "Write E, A and the explicit A of one point (NIST Matrix Market), or what an "
                          "analyser shows at ports");
    verb.option("CASE", o->file, "The case file (YAML)").required();
    verb.option("--set", o->settings, "Change the case: path.to.key=value; repeatable")
        .type("KEY=VALUE")
        .repeatable();
    verb.option("--point", o->point, "Name of the operating point; the first one by default");
    add_file_option(verb, "-o,--output", o->folder,
                    "Folder for E.mtx, A.mtx and A_explicit.mtx; it is created", "FOLDER");
    verb.option("--port", o->ports,
                "A port: the two nodes that a probe would touch, as check --network names them")
        .type("NODE:NODE")
        .repeatable();
    add_file_option(verb, "--touchstone", o->touchstone,
                    "Write the scattering parameters of the ports (Touchstone 1.1, 50 ohm; NAME.sNp)");
    verb.option("--at", o->at, "Of the ports: unpowered (default), or the name of an operating point")
        .type("POINT");
    verb.option("--driver", o->driver,
                "Of the unpowered board: pull_down, or high_impedance where it has no supply")
        .one_of({"pull_down", "high_impedance"});
    verb.option("--from", o->from, "Lowest frequency of the ports (default 1 MHz)").type("VALUE");
    verb.option("--to", o->to, "Highest (default 1 GHz)").type("VALUE");
    verb.option("--points", o->points, "How many (default 401, equal steps of the logarithm)").type("N");
    verb.footer(
        "Example: ringquell export cases/ropeway-first.yaml --point \"turn_on voltage 12\" -o matrices\n"
        "         ringquell export cases/ropeway-first.yaml --port \"gate pin[1]:Kelvin pin[1]\" "
        "--touchstone gate.s1p\n"
        "E dx/dt = A x and dx/dt = A_explicit x, in SI units; each file names its rows in comments.");
    verb.runs([o] {
        if (!o->touchstone.empty()) return run_ports(*o);
        if (!o->ports.empty()) throw InputError({}, "--port", "goes with --touchstone FILE");
        if (o->folder.empty())
            throw InputError({}, "--output", "missing; expected the folder to write, or --touchstone FILE");
        return run_export(*o);
    });
}

}  // namespace ringquell::command
