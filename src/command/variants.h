// Which cases one command line names: files, folders, and variants of one.
#pragma once

#include <string>
#include <vector>

#include "ringquell/check_many.h"

namespace ringquell::command {

/// Every file, and of every folder those of its YAML files that begin a case (by name), each with `settings`,
/// and, of one case alone, each combination of the `sweeps` (`key=a,b,c`; the last one moves fastest; commas
/// within brackets, braces and quotes part nothing). Throws InputError for a folder without a case, a file
/// named twice, sweeps of several cases, and for more than 10000 in all, with their number.
std::vector<CaseVariant> variants_of(const std::vector<std::string>& names,
                                     const std::vector<std::string>& settings,
                                     const std::vector<std::string>& sweeps);

}  // namespace ringquell::command
