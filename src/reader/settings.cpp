#include "reader/settings.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/nearest.h"
#include "base/text_lines.h"
#include "case/key.h"
#include "reader/field_reader.h"
#include "reader/merge.h"
#include "reader/positions.h"

namespace ringquell::internal {
namespace {

const Place set_place{"--set", 0, 0};

void place_at_set(Node& node) {
    node.place = set_place;
    for (Node& item : node.items) place_at_set(item);
    for (auto& [key, value] : node.entries) {
        key.place = set_place;
        place_at_set(value);
    }
}

/// The list in `node`, its part file put in where the list is to be found there.
Node& element(Node& node, int index, const std::string& key) {
    if (!node.is_list())
        throw InputError(set_place, key,
                         fmt::format("found {}, expected a list to take [{}] of", found_text(node), index));
    if (index > static_cast<int>(node.items.size()))
        throw InputError(set_place, key,
                         fmt::format("[{}] is out of range: the list has {} entries, counted from 1", index,
                                     node.items.size()));
    return node.items[static_cast<size_t>(index) - 1];
}

/// A single value becomes the map that it is short for; nothing becomes an empty map.
void make_into_map(Node& node, const std::string& key, const std::string& next) {
    if (node.is_map()) return;
    if (node.is_null()) {
        node = make_map(set_place);
        return;
    }
    Node map = make_map(node.place);
    if (node.is_scalar() && key.ends_with("resistor") && (next == "turn_on" || next == "turn_off")) {
        map.put("turn_on", node);
        map.put("turn_off", node);
    } else if (node.is_scalar() && key.ends_with("gate_resistance") &&
               !key.ends_with("package.gate_resistance") &&
               (next == "value" || next == "at" || next == "per_kelvin")) {
        map.put("value", node);
    } else {
        throw InputError(set_place, join_key(key, next),
                         fmt::format("`{}` holds {}, which has no keys", key, found_text(node)));
    }
    node = std::move(map);
}

int positions_of(const Node& root) {
    const Node* positions = root.find("positions");
    if (!positions) throw InputError(root.place, "", "the key `positions` is missing");
    return read_position_count(*positions);
}

/// The map of the override of one position, made where it is not there.
Node& override_of(Node& root, int position, const std::string& key) {
    const int positions = positions_of(root);
    if (position > positions)
        throw InputError(set_place, key,
                         fmt::format("position {} is out of range 1 to {}", position, positions));
    Node* list = root.find("overrides");
    if (!list || list->is_null()) list = &root.put("overrides", make_list(set_place));
    if (!list->is_list()) fail_expecting(*list, "overrides", "a list");
    for (Node& entry : list->items) {
        const Node* number = entry.find("position");
        if (number && number->is_scalar() && number->scalar == std::to_string(position)) return entry;
    }
    Node entry = make_map(set_place);
    entry.put("position", make_scalar(std::to_string(position), set_place));
    list->items.push_back(std::move(entry));
    return list->items.back();
}

/// `buses.drain[2].inductance` as element 2 of the list `buses.drain.inductance`, a single value written out
/// first.
void set_segment(Node& bus, int segment, const std::string& name, const std::string& key, Node value,
                 int positions) {
    const int count = positions - 1;
    if (segment > count)
        throw InputError(set_place, key, fmt::format("segment {} is out of range 1 to {}", segment, count));
    Node* old = bus.find(name);
    if (!old || old->is_null()) {
        if (name != "inductance" && name != "resistance")
            throw InputError(set_place, key, "unknown key" + suggestion(name, {"inductance", "resistance"}));
        old = &bus.put(name, make_scalar(name == "inductance" ? "0 H" : "0 ohm", set_place));
    }
    if (!old->is_list()) {
        Node list = make_list(old->place);
        list.items.assign(static_cast<size_t>(count), *old);
        *old = std::move(list);
    }
    element(*old, segment, key) = std::move(value);
}

/// `spread.gate_path.inductance.tolerance`: a tolerance's key is one key of the map `spread`, dots and all.
void join_tolerance_key(std::vector<KeyPart>& parts) {
    if (parts.front().name != "spread" || parts.size() < 2) return;
    static const std::vector<std::string> fields{"tolerance", "at_least", "vary", "distribution",
                                                 "correlation"};
    const bool field =
        parts.size() > 2 && std::find(fields.begin(), fields.end(), parts.back().name) != fields.end();
    KeyPart joined;
    const size_t end = parts.size() - (field ? 1 : 0);
    for (size_t i = 1; i < end; ++i) {
        joined.name = join_key(joined.name, parts[i].name);
        if (parts[i].index) joined.name += fmt::format("[{}]", *parts[i].index);
    }
    parts.erase(parts.begin() + 1, parts.begin() + static_cast<std::ptrdiff_t>(end));
    parts.insert(parts.begin() + 1, std::move(joined));
}

struct KeyAndValue {
    std::string key;
    std::string value;
};

KeyAndValue split_setting(std::string_view text) {
    const size_t at = text.find('=');
    const std::string key{trimmed(text.substr(0, at))};
    if (at == std::string_view::npos || key.empty())
        throw InputError(
            set_place, "",
            fmt::format("found `{}`, expected `key=value` such as `gate_path.inductance=9 nH`", text));
    return {key, std::string(text.substr(at + 1))};
}

}  // namespace

void apply_setting(Node& root, std::string_view text, ReadContext& context) {
    const KeyAndValue setting = split_setting(text);
    std::vector<KeyPart> parts = split_key(setting.key, set_place);
    join_tolerance_key(parts);
    Node value;
    try {
        value = parse_document(setting.value, "--set");
    } catch (const InputError& error) {
        throw InputError(set_place, setting.key,
                         error.key().empty() ? error.text() : error.key() + ": " + error.text());
    }
    place_at_set(value);
    const int positions = parts.front().index || parts.front().name == "buses" ? positions_of(root) : 0;

    Node* at = &root;
    if (parts.front().index && is_position_key(parts.front().name)) {
        at = &override_of(root, *parts.front().index, setting.key);
        parts.front().index.reset();
    }
    std::string path;
    for (size_t i = 0; i < parts.size(); ++i) {
        const KeyPart& part = parts[i];
        if (part.index && !at->find(part.name) && at->is_map() && at->find("file")) {
            *at = expand_part(*at, path, context);
        }
        make_into_map(*at, path, part.name);
        path = join_key(path, part.name);
        if (part.index && i == 1 && parts[0].name == "buses" && parts.size() == 3) {
            Node* bus = at->find(part.name);
            if (!bus) bus = &at->put(part.name, make_map(set_place));
            make_into_map(*bus, path, parts[2].name);
            set_segment(*bus, *part.index, parts[2].name, setting.key, std::move(value), positions);
            return;
        }
        Node* next = at->find(part.name);
        if (!next) {
            Node fresh;
            fresh.place = set_place;
            next = &at->put(part.name, fresh);
        }
        if (part.index) {
            path += fmt::format("[{}]", *part.index);
            next = &element(*next, *part.index, path);
        }
        at = next;
    }
    *at = std::move(value);
}

}  // namespace ringquell::internal
