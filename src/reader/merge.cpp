#include "reader/merge.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "case/key.h"
#include "reader/field_reader.h"

namespace ringquell::internal {
namespace {

/// Which of a map's exclusive forms it is in; 0 where its keys belong to every form.
int form_of(const Node& map, std::string_view key) {
    const auto has = [&](std::initializer_list<const char*> names) {
        return std::any_of(names.begin(), names.end(),
                           [&](const char* name) { return map.find(name) != nullptr; });
    };
    if (key == "channel") {
        if (has({"transconductance", "output_conductance"})) return 1;
        if (has({"transfer", "threshold_shift", "gain_factor"})) return 3;
        if (has({"threshold", "gain", "exponent"})) return 2;
    } else if (key == "capacitance") {
        if (has({"table", "file", "points", "ciss_factor", "coss_factor", "crss_factor"})) return 2;
        if (has({"cgs", "cgd", "cds"})) return 1;
    } else if (key == "bead") {
        if (has({"curve"})) return 3;
        if (has({"sections"})) return 2;
        if (has({"resistance", "inductance"})) return 1;
    } else if (key == "device") {
        if (const Node* kind = map.find("kind"); kind && kind->is_scalar())
            return kind->scalar == "cascode" ? 2 : 1;
    }
    return 0;
}

/// Keys whose maps are one value: a curve, or the shape of an inductance.
bool is_one_value(std::string_view key) {
    return key == "transfer" || key == "inductance";
}

Node scalar_as_map(const Node& scalar, std::string_view key, const Node& over) {
    Node map = make_map(scalar.place);
    if (key == "resistor" && (over.find("turn_on") || over.find("turn_off"))) {
        map.put("turn_on", scalar);
        map.put("turn_off", scalar);
    } else if (key == "gate_resistance") {
        map.put("value", scalar);
    }
    return map;
}

/// `within`: the files whose contents are being put in, outermost first.
Node expand_part_within(const Node& node, const std::string& path, ReadContext& context,
                        std::vector<std::string>& within);

void expand_below(Node& node, const std::string& path, ReadContext& context,
                  std::vector<std::string>& within) {
    for (auto& [key, value] : node.entries) {
        const std::string name = join_key(path, key.text);
        if ((key.text == "device" || key.text == "bead") && value.is_map() && value.find("file"))
            value = expand_part_within(value, name, context, within);
        else
            expand_below(value, name, context, within);
    }
    for (size_t i = 0; i < node.items.size(); ++i)
        expand_below(node.items[i], fmt::format("{}[{}]", path, i + 1), context, within);
}

Node expand_part_within(const Node& node, const std::string& path, ReadContext& context,
                        std::vector<std::string>& within) {
    namespace fs = std::filesystem;
    const Node* file = node.find("file");
    const std::string file_key = join_key(path, "file");
    if (!file->is_scalar() || file->scalar.empty()) fail_expecting(*file, file_key, "the path of a file");
    const std::string name = beside(file->scalar, file->place, context);
    const std::string text = read_named_file(name, file->place, file_key, context);
    std::error_code ignored;
    const std::string identity = fs::weakly_canonical(name, ignored).string();
    if (std::find(within.begin(), within.end(), identity) != within.end())
        throw InputError(file->place, file_key, fmt::format("`{}` includes itself", file->scalar));
    within.push_back(identity);
    Node content = parse_document(text, name);
    if (content.is_null()) throw InputError({name, 0, 0}, "", "the file is empty");
    if (!content.is_map())
        throw InputError(content.place, path, fmt::format("found {}, expected a map", found_text(content)));
    if (content.find("file"))
        content = expand_part_within(content, path, context, within);
    else
        expand_below(content, path, context, within);
    within.pop_back();
    Node beside_file = node;
    beside_file.erase("file");
    const std::string_view key = path.ends_with("bead") ? "bead" : "device";
    content = lay_over(content, beside_file, key);
    if (key == "bead" && !content.find("name")) content.put("name", make_scalar(file->scalar, file->place));
    content.replaces = true;
    return content;
}

}  // namespace

void expand_parts(Node& root, ReadContext& context) {
    std::vector<std::string> within;
    expand_below(root, "", context, within);
}

Node expand_part(const Node& node, const std::string& path, ReadContext& context) {
    std::vector<std::string> within;
    return expand_part_within(node, path, context, within);
}

Node lay_over(const Node& base, const Node& over, std::string_view key) {
    if (!over.is_map() || over.replaces || is_one_value(key)) return over;
    Node out = base;
    if (base.is_scalar()) out = scalar_as_map(base, key, over);
    if (!out.is_map()) return over;
    const int mine = form_of(out, key), theirs = form_of(over, key);
    if (mine != 0 && theirs != 0 && mine != theirs) {
        if (key != "bead") return over;
        for (const char* gone : {"resistance", "inductance", "sections", "curve"}) out.erase(gone);
        if (over.find("curve")) out.erase("capacitance");
    }
    if (key == "channel" && mine == 1 && theirs == 0 && !over.entries.empty())
        return over;                                         // knee_voltage alone: curves
    if (key == "capacitance" && mine == 2 && theirs == 2) {  // a curve in another way
        if (over.find("table") || over.find("file") || over.find("points"))
            for (const char* gone : {"table", "file", "points"}) out.erase(gone);
    }
    if (!base.is_map()) out.place = over.place;
    for (const auto& [name, value] : over.entries) {
        if (Node* old = out.find(name.text)) {
            *old = lay_over(*old, value, name.text);
            for (auto& [k, v] : out.entries)
                if (k.text == name.text) k.place = name.place;
        } else {
            out.entries.push_back({name, value});
        }
    }
    return out;
}

std::optional<Node> difference(const Node& base, const Node& target, std::string_view key) {
    if (base.same(target)) return std::nullopt;
    if (!base.is_map() || !target.is_map() || is_one_value(key)) return target;
    const int mine = form_of(base, key), theirs = form_of(target, key);
    if (mine != theirs && key != "bead") return target;
    Node out = make_map();
    for (const auto& [name, value] : target.entries) {
        const Node* old = base.find(name.text);
        if (!old)
            out.put(name.text, value);
        else if (const auto changed = difference(*old, value, name.text))
            out.put(name.text, *changed);
    }
    for (const auto& [name, value] : base.entries) {
        const bool dropped_by_form =
            key == "bead" && mine != theirs &&
            (name.text == "resistance" || name.text == "inductance" || name.text == "sections");
        if (!target.find(name.text) && !dropped_by_form) out.put(name.text, Node{});
    }
    return out;
}

}  // namespace ringquell::internal
