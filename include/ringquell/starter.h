// A case to begin with: what a datasheet states, and typical values for the rest.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/case_device.h"

namespace ringquell {

struct StarterOptions {
    std::optional<DeviceKind> kind;        // absent: the datasheet's, else a MOSFET
    int positions = 4;                     // from 1
    std::optional<std::string> datasheet;  // a file, docs/starter.md
};

/// The text of a complete case, each number with a comment that says where it is from. What the datasheet does
/// not state is a typical value (common practice, no source): marked so, named under `assumed`, with a tolerance
/// under `spread`. `files_read` gains the datasheet and what it names.
/// Throws InputError where the datasheet is wrong.
std::string starter_case(const StarterOptions& options, std::vector<std::string>* files_read = nullptr);

/// The kind that a case names so; InputError at `key` with those that are known.
DeviceKind device_kind(const std::string& name, const std::string& key);

}  // namespace ringquell
