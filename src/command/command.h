// What the verbs of the command share.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "command/arguments.h"
#include "command/output_files.h"
#include "ringquell/check.h"
#include "ringquell/choose.h"

namespace ringquell::command {

/// Exit statuses.
enum Exit : int { passes = 0, fails = 1, bad_input = 2, untrusted = 3 };
int status_of(Verdict verdict);

/// Options that every verb on a case has; adding them returns the one that names the case.
struct CaseOptions {
    std::string file;
    std::vector<std::string> settings;
    std::string json;  // file, "-" for standard output, empty for none
    bool quiet = false;
};
Argument add_case_options(Verb& verb, CaseOptions& options);
/// All of them but the case itself.
void add_common_options(Verb& verb, CaseOptions& options);

/// An option that names a file. An empty name, as of a build's variable that is not set, is refused.
Argument add_file_option(Verb& verb, const std::string& names, std::string& file,
                         const std::string& description, const std::string& type = "FILE");
/// Reads the case. Throws InputError where `--json` or another output would overwrite a file that was read,
/// or another output.
Case read_apart(const CaseOptions& options, const std::vector<Output>& others = {});
/// Text to standard output, or JSON where it was asked for there.
void print_result(const CaseOptions& options, const std::string& text,
                  const std::function<std::string()>& json);

/// What `choose` and the table of `report` are told to compare.
struct CompareOptions {
    std::vector<std::string> beads;
    std::string folder, frequency = "20 kHz";
};
void add_compare_options(Verb& verb, CompareOptions& options);
/// Beads of the files, and of every file of a bead in the folder. What was read is added to `files_read`.
std::vector<BeadCandidate> bead_candidates(const Case& input, const CompareOptions& options,
                                           std::vector<std::string>& files_read);
double switching_frequency_hz(const CompareOptions& options);

/// The plain YAML files of a folder, by name.
std::vector<std::string> yaml_files(const std::string& folder);

/// As many threads as were asked for; 0: one for each processor.
int threads_of(int asked);

/// The whole of a file that an earlier run has written. Throws InputError where it cannot be read.
std::string written_before(const std::string& file, const std::string& option, const std::string& expected);

/// Now, or what SOURCE_DATE_EPOCH says (reproducible-builds.org), in UTC.
std::string date_and_time();

/// Columns of the terminal that standard output is; 80 where it is none or they are not known.
int terminal_columns();
/// The same, but 0 where standard output is no terminal or its locale does not show UTF-8.
int plot_columns();

/// Each verb registers itself.
void add_check(CommandLine& line);
void add_size(CommandLine& line);
void add_explain(CommandLine& line);
void add_choose(CommandLine& line);
void add_compare(CommandLine& line);
void add_cure(CommandLine& line);
void add_calibrate(CommandLine& line);
void add_spread(CommandLine& line);
void add_bead(CommandLine& line);
void add_inductance(CommandLine& line);
void add_export(CommandLine& line);
void add_pickup(CommandLine& line);
void add_report(CommandLine& line);
void add_new(CommandLine& line);

}  // namespace ringquell::command
