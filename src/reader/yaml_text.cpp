#include "reader/yaml_text.h"

#include <fmt/format.h>

#include <algorithm>

namespace ringquell::internal {

namespace {

bool plain_key(const std::string& key) {
    return std::all_of(key.begin(), key.end(), [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_' || c == ' ';
    });
}

std::string quoted(const std::string& text) {
    std::string out = "\"";
    for (const char c : text) {
        if (c == '"' || c == '\\')
            out += fmt::format("\\{}", c);
        else if (c == '\n')
            out += "\\n";
        else if (c == '\t')
            out += "\\t";
        else if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f)
            out += fmt::format("\\x{:02x}", static_cast<unsigned>(c));
        else
            out += c;
    }
    return out + "\"";
}

std::string one_line(const Node& node) {
    std::string out;
    switch (node.kind) {
        case Node::Kind::null:
            return "~";
        case Node::Kind::scalar:
            return node.quoted ? quoted(node.scalar) : node.scalar;
        case Node::Kind::list:
            for (const Node& item : node.items) out += (out.empty() ? "" : ", ") + one_line(item);
            return "[" + out + "]";
        case Node::Kind::map:
            break;
    }
    for (const auto& [key, value] : node.entries)
        out += (out.empty() ? "" : ", ") + (plain_key(key.text) ? key.text : quoted(key.text)) + ": " +
               one_line(value);
    return "{" + out + "}";
}

void write_map(const Node& map, size_t indent, std::string& out);

/// ` value` on the same line where it is short, else a block below.
void write_value(const Node& node, size_t indent, std::string& out) {
    constexpr size_t width = 110;
    const std::string line = one_line(node);
    const bool block = (node.is_map() && !node.entries.empty()) || (node.is_list() && !node.items.empty());
    if (!block || indent + line.size() < width) {
        out += " " + line + "\n";
    } else if (node.is_map()) {
        out += "\n";
        write_map(node, indent + 2, out);
    } else {
        out += "\n";
        for (const Node& item : node.items) {
            const size_t dash = out.size() + indent + 2;
            if (item.is_map() && indent + 4 + one_line(item).size() >= width) {
                write_map(item, indent + 4, out);  // its first key stands behind the dash
                out[dash] = '-';
            } else {
                out += std::string(indent + 2, ' ') + "-";
                write_value(item, indent + 2, out);
            }
        }
    }
}

void write_map(const Node& map, size_t indent, std::string& out) {
    for (const auto& [key, value] : map.entries) {
        out += std::string(indent, ' ') + (plain_key(key.text) ? key.text : quoted(key.text)) + ":";
        write_value(value, indent, out);
    }
}

}  // namespace

std::string yaml_text(const Node& map) {
    std::string out;
    write_map(map, 0, out);
    return out;
}

}  // namespace ringquell::internal
