#include "ringquell/error.h"

#include <fmt/format.h>

namespace ringquell {

namespace {
std::string message(const Place& place, const std::string& key, const std::string& text) {
    std::string out;
    if (!place.file.empty()) out += place.file + ":";
    if (place.line > 0) out += fmt::format("{}:{}:", place.line, place.column);
    if (!out.empty()) out += " ";
    if (!key.empty()) out += key + ": ";
    return out + text;
}
}  // namespace

InputError::InputError(const Place& place, const std::string& key, const std::string& text)
    : std::runtime_error(message(place, key, text)), place_(place), key_(key), text_(text) {}

}  // namespace ringquell
