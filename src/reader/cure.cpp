#include "reader/cure.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/nearest.h"
#include "case/cure_keys.h"
#include "reader/field_reader.h"

namespace ringquell::internal {

namespace {

/// The nearest key or block; else what is meant.
std::string nearest_or(const std::string& found, std::vector<std::string> keys, const char* expected) {
    const size_t count = keys.size();
    for (size_t k = 0; k < count; ++k) keys.push_back(keys[k].substr(0, keys[k].find('.')));
    return suggestion_or(found, keys, fmt::format("; expected {}", expected));
}

void check_pattern(const std::string& pattern, const std::vector<std::string>& keys, const Place& place,
                   const std::string& path) {
    if (std::any_of(keys.begin(), keys.end(), [&](const std::string& key) { return matches(pattern, key); }))
        return;
    throw InputError(place, path,
                     fmt::format("`{}` names nothing that a cure may change", pattern) +
                         nearest_or(pattern, keys,
                                    "a key of the board such as `snubber.capacitance`, or a pattern such as "
                                    "`drain_path.*`"));
}

CureRange read_range(const Node& node, const Case& in, const std::string& key, const std::string& path,
                     ReadContext& context) {
    const auto dimension = cure_dimension(in, key);
    if (!dimension)
        throw InputError(
            node.place, path,
            fmt::format("`{}` is no number that a cure may change", key) +
                nearest_or(key, cure_keys(in), "a number of the board such as `source_path.inductance`"));
    const bool negative = key.ends_with(".coefficient") || key.ends_with(".mutual");
    const NumberSpec spec{*dimension, negative ? Sign::any : Sign::not_negative};
    FieldReader reader(node, path, context);
    CureRange out;
    reader.number("from", out.from, spec);
    reader.number("to", out.to, spec);
    reader.finish();
    if (out.from && out.to && !(*out.from < *out.to))
        fail_expecting(*node.find("to"), path + ".to", "a value above `from`");
    return out;
}

}  // namespace

CureRules read_cure(const Node& node, const Case& in, ReadContext& context) {
    CureRules out;
    out.place = node.place;
    FieldReader reader(node, "cure", context);
    reader.texts("fixed", out.fixed);
    const Node* may = reader.take("may");
    const Node* price = reader.take("price");
    reader.finish();
    const std::vector<std::string> keys = cure_keys(in);
    for (size_t i = 0; i < out.fixed.size(); ++i)
        check_pattern(out.fixed[i], keys, node.find("fixed")->items[i].place,
                      fmt::format("cure.fixed[{}]", i + 1));
    if (may) {
        if (!may->is_map()) fail_expecting(*may, "cure.may", "a map of keys and their ranges");
        for (const auto& [key, value] : may->entries) {
            std::string full = key.text;
            if (full.starts_with("package.")) full.insert(0, "device.");
            out.may[full] = read_range(value, in, full, fmt::format("cure.may.{}", key.text), context);
        }
    }
    if (price) {
        if (!price->is_map()) fail_expecting(*price, "cure.price", "a map of what changes and its effort");
        std::vector<std::string> named = keys;
        named.insert(named.begin(), std::begin(effort_names), std::end(effort_names));
        for (const auto& [key, value] : price->entries) {
            check_pattern(key.text, named, key.place, "cure.price");
            const std::string path = fmt::format("cure.price.{}", key.text);
            if (!value.is_scalar()) fail_expecting(value, path, "an effort of 0 or more, such as 3");
            const double effort = parse_quantity(value.scalar, Dimension::number, value.place, path);
            if (effort < 0) fail_expecting(value, path, "an effort of 0 or more, such as 3");
            out.price[key.text] = effort;
        }
    }
    return out;
}

}  // namespace ringquell::internal
