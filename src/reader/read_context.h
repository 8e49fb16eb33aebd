// What one reading of a case shares, and the files that a case names.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "ringquell/case.h"

namespace ringquell::internal {

struct ReadContext {
    std::string main_file;  // relative paths that "--set" names start beside it
    int positions = 1;
    /// Of measured beads: `require.band` where given.
    std::optional<std::pair<double, double>> fit_band_hz;
    /// `require.band`; none: zero.
    std::pair<double, double> judged_band_hz{0, 0};
    // What is collected on the way.
    std::vector<Warning> warnings;
    std::vector<std::string> files_read;
    /// By file and DC resistance: positions share their parts.
    std::map<std::string, Bead> fitted;
};

/// Adds a warning to the context's unless it is there already.
void warn_once(ReadContext& context, const std::string& key, const std::string& text);

/// A file's path as an existing file names it, relative to that file.
std::string beside(const std::string& path, const Place& named_at, const ReadContext& context);

/// read_text_file() of a file that the case names; the context remembers it.
std::string read_named_file(const std::string& path, const Place& named_at, const std::string& key,
                            ReadContext& context);

}  // namespace ringquell::internal
