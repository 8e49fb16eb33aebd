// A YAML text as our own tree: maps, lists and scalars that know where they stand. Only document.cpp
// includes yaml-cpp.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "ringquell/error.h"

namespace ringquell::internal {

struct Entry;

struct Key {
    std::string text;
    Place place;
};

/// One value. Nothing is interpreted: `on`, `1` and `4.7 ohm` are scalars alike.
struct Node {
    enum class Kind { null, scalar, list, map };
    Kind kind = Kind::null;
    Place place;
    std::string scalar;
    bool quoted = false;  // written in quotes, so that it is text
    /// Read from a part file: laid over another map it takes its place (see lay_over).
    bool replaces = false;
    std::vector<Node> items;
    std::vector<Entry> entries;  // in the order of the text

    bool is_null() const { return kind == Kind::null; }
    bool is_scalar() const { return kind == Kind::scalar; }
    bool is_list() const { return kind == Kind::list; }
    bool is_map() const { return kind == Kind::map; }

    const Node* find(std::string_view key) const;
    Node* find(std::string_view key);
    /// Sets or adds an entry; its key gets the value's place where it is new.
    Node& put(std::string_view key, Node value);
    void erase(std::string_view key);

    /// Same content; places, quotes and the order of a map's keys do not matter.
    bool same(const Node& other) const;
};

struct Entry {
    Key key;
    Node value;
};

Node make_scalar(std::string text, const Place& place = {});
Node make_map(const Place& place = {});
Node make_list(const Place& place = {});

/// What was found, for messages: `` `4.7` ``, `a list`, `a map`, `nothing`.
std::string found_text(const Node& node);

/// Parses one document. Throws InputError: syntax, a repeated key, a key that is not plain text, a tag, a
/// merge key, a second document, nesting beyond 64, an alias inside what it names, more than half a million
/// values once aliases are written out, text that is not UTF-8 (a byte order mark is skipped), more than 4
/// MiB. An empty text is a null node.
Node parse_document(std::string_view text, const std::string& file_name);

/// A whole file, 4 MiB at most. Throws InputError at `named_at` and `key` (where the file is named): no such
/// file, a directory, unreadable, too large.
std::string read_text_file(const std::string& path, const Place& named_at = {}, const std::string& key = {});

}  // namespace ringquell::internal
