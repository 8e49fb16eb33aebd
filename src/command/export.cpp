#include <fmt/format.h>

#include <filesystem>
#include <memory>

#include "command/command.h"
#include "ringquell/network.h"
#include "ringquell/operating_path.h"
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
};

/// The point of that name, or the first one where none is named.
const OperatingPoint& named_point(const OperatingPath& path, const std::string& name) {
    std::string known;
    for (const OperatingPoint& p : path.points) {
        if (name.empty() || p.name == name) return p;
        known += (known.empty() ? "" : ", ") + fmt::format("`{}`", p.name);
    }
    throw InputError({}, "--point",
                     fmt::format("found `{}`; expected one of {}", name,
                                 known.empty() ? "the case's points (it has none)" : known));
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
    const OperatingPoint& point = named_point(path, o.point);
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

}  // namespace

void add_export(CommandLine& line) {
    auto o = std::make_shared<ExportArguments>();
    Verb verb =
        line.verb("export", "Write E, A and the explicit A of one operating point (NIST Matrix Market)");
    verb.option("CASE", o->file, "The case file (YAML)").required();
    verb.option("--set", o->settings, "Change the case: path.to.key=value; repeatable")
        .type("KEY=VALUE")
        .repeatable();
    verb.option("--point", o->point, "Name of the operating point; the first one by default");
    add_file_option(verb, "-o,--output", o->folder,
                    "Folder for E.mtx, A.mtx and A_explicit.mtx; it is created", "FOLDER")
        .required();
    verb.footer(
        "Example: ringquell export cases/ropeway-first.yaml --point \"turn_on voltage 12\" -o matrices\n"
        "E dx/dt = A x and dx/dt = A_explicit x, in SI units; each file names its rows in comments.");
    verb.runs([o] { return run_export(*o); });
}

}  // namespace ringquell::command
