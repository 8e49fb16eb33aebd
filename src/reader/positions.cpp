#include "reader/positions.h"

#include <fmt/format.h>

#include <map>
#include <optional>

#include "case/key.h"
#include "reader/field_reader.h"
#include "reader/kinds.h"
#include "reader/merge.h"

namespace ringquell::internal {
namespace {

/// The tree of every position that has an override, laid over what all share.
struct Overrides {
    std::map<int, const Node*> of;  // position, from 1, to its entry
};

Overrides read_overrides(const Node* list, ReadContext& context) {
    Overrides out;
    if (!list) return out;
    if (!list->is_list()) fail_expecting(*list, "overrides", "a list");
    for (size_t i = 0; i < list->items.size(); ++i) {
        const Node& entry = list->items[i];
        const std::string path = fmt::format("overrides[{}]", i + 1);
        FieldReader reader(entry, path, context);
        const Node* position = reader.take("position", is_mandatory);
        for (const char* key : position_keys) reader.take(key);
        reader.finish();
        const int k = read_integer(*position, path + ".position", 1, context.positions);
        if (!out.of.emplace(k, &entry).second)
            throw InputError(
                position->place, path + ".position",
                fmt::format("position {} has an override already, in line {}; write its keys there", k,
                            out.of[k]->place.line));
    }
    return out;
}

Node position_tree(const Node& root, const Node* over) {
    Node tree = make_map(root.place);
    for (const char* key : position_keys) {
        const Node* base = root.find(key);
        const Node* mine = over ? over->find(key) : nullptr;
        if (base && mine)
            tree.put(key, lay_over(*base, *mine, key));
        else if (base || mine)
            tree.put(key, base ? *base : *mine);
    }
    return tree;
}

/// Two windings whose difference of currents sees inductance·(1 − leakage/(4·inductance)): nothing is left of
/// it at four times.
void check_choke(const Position& read, const Node& tree) {
    const auto& choke = read.common_mode_choke;
    if (!choke || choke->inductance_h == 0 || choke->leakage_h < 4 * choke->inductance_h) return;
    fail_expecting(
        *tree.find("common_mode_choke")->find("leakage"), "common_mode_choke.leakage",
        fmt::format("less than four times the inductance of {}, more than which two windings cannot "
                    "leak (a few per cent is usual)",
                    engineering(choke->inductance_h, Dimension::inductance)));
}

Position read_position(const Node& tree, ReadContext& context) {
    FieldReader reader(tree, "", context);
    Position out;
    describe(reader, out);
    reader.finish();
    check_choke(out, tree);
    return out;
}

/// What the model cannot hold, and keys that belong to another kind.
void refuse_other_kind(const Node& node, const std::string& path) {
    const Node* kind = node.find("kind");
    if (!kind || !kind->is_scalar()) return;
    refuse_igbt(kind->scalar, kind->place, join_key(path, "kind"));
    if (kind->scalar != "mosfet" && kind->scalar != "jfet" && kind->scalar != "hemt") return;
    for (const auto& [key, value] : node.entries)
        if ((key.text == "mosfet" || key.text == "jfet" || key.text == "bonds") && !value.is_null())
            throw InputError(key.place, join_key(path, key.text),
                             fmt::format("belongs to `kind: cascode`; a device of `kind: {}` has `channel` "
                                         "and `capacitance` itself",
                                         kind->scalar));
}

}  // namespace

int read_position_count(const Node& positions) {
    constexpr int most_positions = 4096;
    return read_integer(positions, "positions", 1, most_positions);
}

ReadPositions read_positions(const Node& root, const Node* override_list, ReadContext& context) {
    const Overrides overrides = read_overrides(override_list, context);
    ReadPositions out;
    DeviceTrees& trees = out.trees;
    const Node base_tree = position_tree(root, nullptr);
    std::optional<Position> base;
    std::optional<size_t> base_device;
    for (int k = 1; k <= context.positions; ++k) {
        const auto found = overrides.of.find(k);
        const Node* over = found == overrides.of.end() ? nullptr : found->second;
        const bool own_device = over && over->find("device");
        if (over) {
            const Node tree = position_tree(root, over);
            out.positions.push_back(read_position(tree, context));
            if (own_device) {
                trees.device_of.push_back(trees.devices.size());
                trees.devices.push_back(*tree.find("device"));
                continue;
            }
        } else {
            if (!base) base = read_position(base_tree, context);
            out.positions.push_back(*base);
        }
        if (!base_device) {
            base_device = trees.devices.size();
            trees.devices.push_back(*base_tree.find("device"));
        }
        trees.device_of.push_back(*base_device);
    }
    return out;
}

Device read_device(const Node& node, const std::string& path, ReadContext& context) {
    FieldReader reader(node, path, context);
    Device out;
    refuse_other_kind(node, path);
    describe(reader, out);
    reader.finish();
    return out;
}

}  // namespace ringquell::internal
