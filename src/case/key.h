// Keys of the case file as texts: `gate_path[2].inductance` and its parts.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "ringquell/error.h"

namespace ringquell::internal {

/// `outer.key`, or `key` at the top.
std::string join_key(const std::string& outer, const std::string& key);

struct KeyPart {
    std::string name;
    std::optional<int> index;  // from 1
};
/// `gate_path[2].inductance` into its parts. Throws InputError at `place`.
std::vector<KeyPart> split_key(std::string_view key, const Place& place);

/// `gate_path.inductance` at position 2 is `gate_path[2].inductance`.
std::string at_position(const std::string& key, int position);

/// `gate_path[2].inductance` is `gate_path.inductance` at a position; any other key as it is.
std::string without_position(const std::string& key);

/// What every position has of its own, and an override may name.
inline constexpr std::array position_keys{
    "device",     "gate_path",  "kelvin_path", "drain_path",        "source_path", "snubber",
    "gate_shunt", "gate_drain", "tab",         "common_mode_choke", "leg",         "junction_temperature"};
bool is_position_key(std::string_view key);
/// May the key's number differ from position to position? Then whether it names one position alone.
bool is_position_number(const std::string& key, bool& one_position);

}  // namespace ringquell::internal
