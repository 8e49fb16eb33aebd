#include "case/key.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

namespace ringquell::internal {

std::string join_key(const std::string& outer, const std::string& key) {
    return outer.empty() ? key : key.empty() ? outer : outer + "." + key;
}

bool is_position_key(std::string_view key) {
    return std::any_of(position_keys.begin(), position_keys.end(), [&](const char* k) { return key == k; });
}

std::vector<KeyPart> split_key(std::string_view key, const Place& place) {
    std::vector<KeyPart> out;
    const auto bad = [&]() {
        throw InputError(place, std::string(key), "expected a key such as `gate_path[2].inductance`");
    };
    for (std::string_view rest = key;;) {
        const size_t dot = rest.find('.');
        std::string_view part = rest.substr(0, dot);
        KeyPart out_part;
        if (const size_t open = part.find('['); open != std::string_view::npos) {
            int index = 0;
            const std::string_view number = part.substr(open + 1);
            const auto [end, error] = std::from_chars(number.data(), number.data() + number.size(), index);
            if (error != std::errc() || end + 1 != number.data() + number.size() || *end != ']') bad();
            if (index < 1) throw InputError(place, std::string(key), "an index counts from 1");
            out_part.index = index;
            part = part.substr(0, open);
        }
        if (part.empty()) bad();
        out_part.name = part;
        out.push_back(std::move(out_part));
        if (dot == std::string_view::npos) return out;
        rest.remove_prefix(dot + 1);
    }
}

std::string at_position(const std::string& key, int position) {
    const size_t dot = key.find('.');
    return fmt::format("{}[{}]{}", key.substr(0, dot), position,
                       dot == std::string::npos ? "" : key.substr(dot));
}

bool is_position_number(const std::string& key, bool& one_position) {
    const auto parts = split_key(key, {});
    one_position = parts.front().index.has_value();
    return is_position_key(parts.front().name);
}

std::string without_position(const std::string& key) {
    const size_t open = key.find('['), close = key.find("].");
    if (open == std::string::npos || close == std::string::npos || open > close) return key;
    const std::string base = key.substr(0, open);
    return is_position_key(base) ? base + key.substr(close + 1) : key;
}

}  // namespace ringquell::internal
