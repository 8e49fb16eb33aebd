#include "reader/assumed.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/text_lines.h"
#include "reader/field_reader.h"
#include "ringquell/numbers.h"

namespace ringquell::internal {

namespace {

/// Does a setting replace the block that the key stands in?
bool is_below_a_setting(const std::string& key, const std::vector<std::string>& settings) {
    return std::any_of(settings.begin(), settings.end(), [&](const std::string& setting) {
        const std::string block(trimmed(std::string_view(setting).substr(0, setting.find('='))));
        return key.starts_with(block + ".");
    });
}

}  // namespace

std::vector<Assumed> read_assumed(const Node& list, const Case& in,
                                  const std::vector<std::string>& settings) {
    std::vector<Assumed> out;
    if (!list.is_list()) fail_expecting(list, "assumed", "a list of keys such as `device.package.gate`");
    for (size_t i = 0; i < list.items.size(); ++i) {
        const Node& item = list.items[i];
        const std::string path = fmt::format("assumed[{}]", i + 1);
        if (!item.is_scalar()) fail_expecting(item, path, "a key such as `device.package.gate`");
        const std::string& key = item.scalar;
        if (std::any_of(out.begin(), out.end(), [&](const Assumed& a) { return a.key == key; }))
            throw InputError(item.place, path, fmt::format("`{}` is named twice", key));
        try {
            find_number(in, key);
        } catch (const InputError& error) {
            if (is_below_a_setting(key, settings)) continue;
            throw InputError(item.place, path, fmt::format("found `{}`: {}", key, error.text()));
        }
        if (key.starts_with("require."))
            throw InputError(
                item.place, path,
                fmt::format("found `{}`, which is what is asked; expected a number of the circuit "
                            "or of where it operates",
                            key));
        out.push_back({key, item.place});
    }
    return out;
}

}  // namespace ringquell::internal
