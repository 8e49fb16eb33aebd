// Where the cases stand that tests read.
#pragma once

#include <string>
#include <vector>

#include "ringquell/check.h"
#include "ringquell/read_case.h"
#include "test_paths.h"

namespace test_files {

inline const std::string cases = std::string(RINGQUELL_CASES) + "/";
inline const std::string reference = std::string(RINGQUELL_TEST_DATA) + "/reference/";

/// A demonstration case by its name.
inline ringquell::Case demonstration(const std::string& name, const std::vector<std::string>& settings = {}) {
    return ringquell::read_case(cases + name + ".yaml", settings);
}

/// `check` with the windows of the gate resistor, without following modes along the path.
inline ringquell::CheckResult checked(const ringquell::Case& input) {
    ringquell::CheckOptions options;
    options.follow_modes = false;
    return check(input, options);
}

}  // namespace test_files
