// From a case file to a Case. docs/case-file.md describes the keys.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "ringquell/case.h"

namespace ringquell {

/// `--set key=value`: the value as it would stand in the file. `gate_path[2].inductance` sets it at position
/// 2 alone; entries of lists count from 1; an absent key is created. Reading with settings equals reading an
/// edited file.
struct Setting {
    std::string key;
    std::string value;
};

/// `key=value` into its two sides. Throws InputError where `=` or the key is missing.
Setting split_setting(std::string_view text);

/// Reads a case with its part files (paths relative to the file that names them), after the settings,
/// `key=value` each, are made in order. Throws InputError with file, line, column and key, and nothing else.
/// What is legal but doubtful is in Case::warnings. To `files_read` is added every file that was read, the
/// case itself first.
Case read_case(const std::string& file, const std::vector<std::string>& settings = {},
               std::vector<std::string>* files_read = nullptr);
/// The same from a text; `file_name` names it in messages and is where relative paths start.
Case read_case_text(std::string_view text, const std::string& file_name,
                    const std::vector<std::string>& settings = {},
                    std::vector<std::string>* files_read = nullptr);

/// A file that holds a bead alone, as `gate_path.bead: {file: ...}` takes it; a measured curve is fitted over
/// the band (Hz, low and high). Its name is the file's unless it has its own. Throws InputError.
Bead read_bead_file(const std::string& file, std::pair<double, double> fit_band_hz,
                    std::vector<std::string>* files_read = nullptr);
/// Is it a file of a bead, not of a device? By its keys; throws InputError where it cannot be read as YAML.
bool is_bead_file(const std::string& file);

}  // namespace ringquell
