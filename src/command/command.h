// What the verbs of the command share.
#pragma once

#include <CLI/CLI.hpp>
#include <fstream>
#include <functional>
#include <string>
#include <vector>

#include "ringquell/check.h"
#include "ringquell/choose.h"

namespace ringquell::command {

/// Exit statuses.
enum Exit : int { passes = 0, fails = 1, bad_input = 2, untrusted = 3 };
int status_of(Verdict verdict);

/// Options that every verb on a case has.
struct CaseOptions {
    std::string file;
    std::vector<std::string> settings;
    std::string json;  // file, "-" for standard output, empty for none
    bool quiet = false;
};
void add_case_options(CLI::App& verb, CaseOptions& options);

/// Writes the whole text to `file` ("-": standard output), by way of a temporary beside it: the file appears
/// whole or not at all. Throws InputError where that fails.
void write_output(const std::string& file, const std::string& text);
/// The same for a file that grows line by line.
class GrowingOutput {
  public:
    explicit GrowingOutput(const std::string& file);
    ~GrowingOutput();
    GrowingOutput(const GrowingOutput&) = delete;
    GrowingOutput& operator=(const GrowingOutput&) = delete;
    void add(const std::string& text) { out_ << text; }
    /// The file appears. Throws InputError where that fails.
    void finish();

  private:
    std::string file_, temporary_;
    std::ofstream out_;
};
/// Text to standard output, or JSON where it was asked for there.
void print_result(const CaseOptions& options, const std::string& text,
                  const std::function<std::string()>& json);

/// What `choose` and the table of `report` are told to compare.
struct CompareOptions {
    std::vector<std::string> beads;
    std::string folder, frequency = "20 kHz";
};
void add_compare_options(CLI::App& verb, CompareOptions& options);
/// Beads of the files, and of every file of a bead in the folder.
std::vector<BeadCandidate> bead_candidates(const Case& input, const CompareOptions& options);
double switching_frequency_hz(const CompareOptions& options);

/// The whole of a file that an earlier run has written. Throws InputError where it cannot be read.
std::string written_before(const std::string& file, const std::string& option, const std::string& expected);
/// Throws InputError where an output would overwrite the case; empty: no output.
void keep_case(const std::string& output, const std::string& option, const std::string& case_file);

/// Columns of the terminal that standard output is; 80 where it is none or they are not known.
int terminal_columns();
/// The same, but 0 where standard output is no terminal or its locale does not show UTF-8.
int plot_columns();

/// Each verb registers itself; `run` is set to what was chosen.
using Run = std::function<int()>;
void add_check(CLI::App& app, Run& run);
void add_size(CLI::App& app, Run& run);
void add_explain(CLI::App& app, Run& run);
void add_choose(CLI::App& app, Run& run);
void add_spread(CLI::App& app, Run& run);
void add_bead(CLI::App& app, Run& run);
void add_inductance(CLI::App& app, Run& run);
void add_export(CLI::App& app, Run& run);
void add_report(CLI::App& app, Run& run);
void add_new(CLI::App& app, Run& run);

}  // namespace ringquell::command
