#include "ringquell/read_case.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/nearest.h"
#include "reader/field_reader.h"

namespace ringquell {

using namespace internal;
namespace {

constexpr int most_positions = 4096;

/// The tree of every position that has an override, laid over what all share.
struct Overrides {
    std::map<int, const Node*> of;  // position, from 1, to its entry
};

Overrides read_overrides(const Node* list, const ReadContext& context) {
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

Position read_position(const Node& tree, const ReadContext& context) {
    FieldReader reader(tree, "", context);
    Position out;
    describe(reader, out);
    reader.finish();
    check_choke(out, tree);
    return out;
}

void refuse_other_kind(const Node& node, const std::string& path) {
    const Node* kind = node.find("kind");
    if (!kind || !kind->is_scalar() || kind->scalar != "mosfet") return;
    for (const auto& [key, value] : node.entries)
        if ((key.text == "mosfet" || key.text == "jfet" || key.text == "bonds") && !value.is_null())
            throw InputError(key.place, join_key(path, key.text),
                             "belongs to `kind: cascode`; a device of `kind: mosfet` has `channel` and "
                             "`capacitance` itself");
}

void read_positions(Case& out, const Node& root, const Overrides& overrides, DeviceTrees& trees,
                    const ReadContext& context) {
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
}

Case read_tree(Node root, const std::string& file_name, const std::vector<std::string>& settings,
               std::vector<std::string>* files_read) {
    ReadContext context;
    context.main_file = file_name;
    if (root.is_null()) throw InputError({file_name, 0, 0}, "", "the file is empty");
    if (!root.is_map()) fail_expecting(root, "", "the keys of a case, `ringquell: 1` first");
    for (const std::string& text : settings) apply_setting(root, split_setting(text), context);
    expand_parts(root, context);

    FieldReader reader(root, "", context);
    Case out;
    out.file = file_name;
    const Node* version = reader.take("ringquell", is_mandatory);
    if (version && !(version->is_scalar() && version->scalar == "1"))
        fail_expecting(*version, "ringquell", "1, the version of the format that this program reads");
    reader.text("title", out.title);
    const Node* positions = reader.take("positions", is_mandatory);
    if (positions) context.positions = read_integer(*positions, "positions", 1, most_positions);
    reader.take("device", is_mandatory);
    for (const char* key : position_keys) reader.take(key);
    const Node* buses = reader.take("buses");
    const Node* driver = reader.take("driver", is_mandatory);
    const Node* power_loop = reader.take("power_loop", is_mandatory);
    const Node* override_list = reader.take("overrides");
    const Node* couplings = reader.take("couplings");
    const Node* operation = reader.take("operation", is_mandatory);
    const Node* require = reader.take("require", is_mandatory);
    const Node* spread = reader.take("spread");
    reader.finish();

    out.require = read_requirement(*require, context);
    context.judged_band_hz = {out.require.band_low_hz, out.require.band_high_hz};
    if (require->find("band")) context.fit_band_hz = {out.require.band_low_hz, out.require.band_high_hz};
    const Overrides overrides = read_overrides(override_list, context);
    DeviceTrees trees;
    read_positions(out, root, overrides, trees, context);
    FieldReader shared(root, "", context);
    if (buses) shared.block("buses", out.buses, false, DescribeBuses{});
    if (driver) shared.block("driver", out.driver);
    if (power_loop) shared.block("power_loop", out.power_loop);
    if (couplings) out.couplings = read_couplings(*couplings, context, out.driver);
    out.operation = read_operation(*operation, trees, context);
    join_kelvin_pins(out, root, context);
    check_channels(out);
    check_judge_held(*require, out);
    if (spread) out.spread = read_spread(*spread, out, context);
    out.warnings = plausibility_warnings(out);
    out.warnings.insert(out.warnings.end(), context.warnings.begin(), context.warnings.end());
    if (files_read)
        files_read->insert(files_read->end(), context.files_read.begin(), context.files_read.end());
    return out;
}

}  // namespace

Device internal::read_device(const Node& node, const std::string& path, const ReadContext& context) {
    FieldReader reader(node, path, context);
    Device out;
    refuse_other_kind(node, path);
    describe(reader, out);
    reader.finish();
    return out;
}

void FieldReader::block(const char* key, Device& out, bool required) {
    if (const Node* node = take(key, required)) out = read_device(*node, path_of(key), context_);
}

Case read_case(const std::string& file, const std::vector<std::string>& settings,
               std::vector<std::string>* files_read) {
    const std::string text = read_text_file(file);
    if (files_read) files_read->push_back(file);
    return read_case_text(text, file, settings, files_read);
}

Case read_case_text(std::string_view text, const std::string& file_name,
                    const std::vector<std::string>& settings, std::vector<std::string>* files_read) {
    return read_tree(parse_document(text, file_name), file_name, settings, files_read);
}

}  // namespace ringquell
