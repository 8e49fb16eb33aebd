#include "ringquell/choose.h"

#include <algorithm>
#include <filesystem>
#include <memory>

#include "command/command.h"
#include "ringquell/bead_file.h"
#include "ringquell/quantity.h"
#include "ringquell/read_case.h"
#include "ringquell/report.h"

namespace ringquell::command {

namespace {

/// Bead files of a folder, by name; device files that lie among them are passed over, but read.
std::vector<std::string> bead_files(const std::string& folder, std::vector<std::string>& files_read) {
    if (!std::filesystem::is_directory(folder))
        throw InputError({folder}, "--beads", "is no folder; expected one with files of beads");
    std::vector<std::string> out;
    for (const std::string& file : yaml_files(folder)) {
        files_read.push_back(file);
        if (is_bead_file(file)) out.push_back(file);
    }
    if (out.empty()) throw InputError({folder}, "--beads", "holds no file of a bead (YAML)");
    return out;
}

}  // namespace

void add_compare_options(Verb& verb, CompareOptions& options) {
    verb.option("--bead", options.beads, "A file of a bead, as in gate_path.bead: {file: ...}; repeatable")
        .type("FILE")
        .repeatable();
    verb.option("--beads", options.folder, "A folder: every file of a bead in it").type("FOLDER");
    verb.option("--switching-frequency", options.frequency,
                "For the power in the resistor, with its unit (default 20 kHz)")
        .type("VALUE");
}

double switching_frequency_hz(const CompareOptions& options) {
    const double out = parse_quantity(options.frequency, Dimension::frequency, {}, "--switching-frequency");
    if (!(out > 0)) throw InputError({}, "--switching-frequency", "expected a frequency above zero");
    return out;
}

std::vector<BeadCandidate> bead_candidates(const Case& input, const CompareOptions& options,
                                           std::vector<std::string>& files_read) {
    std::vector<std::string> files = options.beads;
    if (!options.folder.empty())
        for (const std::string& file : bead_files(options.folder, files_read)) files.push_back(file);
    // Two files of one name from two folders keep their paths.
    const auto stem = [](const std::string& f) { return std::filesystem::path(f).stem().string(); };
    std::vector<BeadCandidate> out;
    for (const std::string& file : files) {
        Bead bead =
            read_bead_file(file, {input.require.band_low_hz, input.require.band_high_hz}, &files_read);
        const auto same = std::count_if(files.begin(), files.end(),
                                        [&](const std::string& f) { return stem(f) == stem(file); });
        std::string name = bead.name != file ? bead.name : same > 1 ? file : stem(file);
        out.push_back({std::move(name), std::move(bead)});
    }
    return out;
}

void add_choose(CommandLine& line) {
    struct Options : CaseOptions {
        CompareOptions compare;
        std::string edge = "both", limit_time;
        std::optional<double> limit_damping;
    };
    auto o = std::make_shared<Options>();
    Verb verb = line.verb("choose", "Which bead with which gate resistor: damping, margin and cost, ranked");
    add_case_options(verb, *o);
    add_compare_options(verb, o->compare);
    verb.option("--edge", o->edge, "turn_on, turn_off or both").one_of({"turn_on", "turn_off", "both"});
    verb.option("--limit-time", o->limit_time, "Leave out what takes longer for an edge, with its unit")
        .type("VALUE");
    verb.option("--limit-damping", o->limit_damping, "Leave out what damps less").type("RATIO");
    verb.footer("Example: ringquell choose cases/ropeway-first.yaml --beads cases/parts --limit-time 80ns");
    verb.runs([o] {
        std::vector<std::string> files_read;
        const Case input = read_case(o->file, o->settings, &files_read);
        ChooseOptions options;
        options.turn_on = o->edge != "turn_off";
        options.turn_off = o->edge != "turn_on";
        options.switching_frequency_hz = switching_frequency_hz(o->compare);
        if (!o->limit_time.empty())
            options.limit_time_s = parse_quantity(o->limit_time, Dimension::time, {}, "--limit-time");
        options.limit_damping = o->limit_damping;
        options.beads = bead_candidates(input, o->compare, files_read);
        keep_apart({{"--json", o->json}}, files_read);
        const Choice choice = choose(input, options);
        print_result(*o, choose_text(choice, o->quiet), [&] { return choose_json(choice); });
        return passes;
    });
}

}  // namespace ringquell::command
