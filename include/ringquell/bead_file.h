// A bead that stands in a file of its own, for the verb `choose`.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "ringquell/case.h"

namespace ringquell {

/// A file that holds a bead alone, as `gate_path.bead: {file: ...}` takes it; a measured curve is fitted over
/// the band (Hz, low and high). Its name is the file's unless it has its own. Throws InputError.
Bead read_bead_file(const std::string& file, std::pair<double, double> fit_band_hz,
                    std::vector<std::string>* files_read = nullptr);
/// Is it a file of a bead, not of a device? By its keys; throws InputError where it cannot be read as YAML.
bool is_bead_file(const std::string& file);

}  // namespace ringquell
