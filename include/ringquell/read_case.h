// From a case file to a Case. docs/case-file.md describes the keys.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "ringquell/case.h"

namespace ringquell {

/// Reads a case with its part files (paths relative to the file that names them), after the settings are made
/// in order, `key=value` each, the value as it would stand in the file: `gate_path[2].inductance` sets it at
/// position 2 alone, entries of lists count from 1, an absent key is created. Reading with settings equals
/// reading an edited file. Throws InputError with file, line, column and key, and nothing else. What is legal
/// but doubtful is in Case::warnings. To `files_read` is added every file that was read, the case itself
/// first.
Case read_case(const std::string& file, const std::vector<std::string>& settings = {},
               std::vector<std::string>* files_read = nullptr);
/// The same from a text; `file_name` names it in messages and is where relative paths start.
Case read_case_text(std::string_view text, const std::string& file_name,
                    const std::vector<std::string>& settings = {},
                    std::vector<std::string>* files_read = nullptr);

/// Does the file begin a case: a line with the key `ringquell`? Says nothing of what else is in it. False where
/// it cannot be read.
bool is_case_file(const std::string& file);

}  // namespace ringquell
