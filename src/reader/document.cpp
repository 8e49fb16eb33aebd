#include "reader/document.h"

#include <fmt/format.h>
#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/parser.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>

#include "base/text_lines.h"

namespace ringquell::internal {
namespace {

constexpr size_t largest_file = 4 * 1024 * 1024;  // bytes; a case with thousands of overrides is below one
constexpr size_t deepest = 64;
constexpr size_t most_nodes = 500'000;  // with aliases written out

size_t count_nodes(const Node& node) {
    size_t n = 1;
    for (const Node& item : node.items) n += count_nodes(item);
    for (const auto& [key, value] : node.entries) n += count_nodes(value);
    return n;
}

size_t depth_of(const Node& node) {
    size_t depth = 0;
    for (const Node& item : node.items) depth = std::max(depth, depth_of(item));
    for (const auto& [key, value] : node.entries) depth = std::max(depth, depth_of(value));
    return depth + 1;
}

/// Builds the tree from yaml-cpp's events; nothing is expanded but what is counted first.
class Builder : public YAML::EventHandler {
  public:
    explicit Builder(std::string file) : file_(std::move(file)) {}

    Node root;
    bool any = false;

    void OnDocumentStart(const YAML::Mark&) override {}
    void OnDocumentEnd() override {}

    void OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) override {
        Node node;
        node.place = place(mark);
        add(std::move(node), anchor, 1);
    }

    void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                  const std::string& value) override {
        refuse_tag(tag, mark);
        Node node = make_scalar(value, place(mark));
        node.quoted = tag == "!";
        add(std::move(node), anchor, 1);
    }

    void OnAlias(const YAML::Mark& mark, YAML::anchor_t anchor) override {
        const auto found = anchored_.find(anchor);
        if (found == anchored_.end())
            throw InputError(place(mark), "", "an alias stands inside the value that it names");
        const size_t n = found->second.nodes;
        if (frames_.size() + found->second.depth > deepest) too_deep(place(mark));
        if (total_ + n > most_nodes) too_many(place(mark));  // before it is copied
        add(Node(found->second.node), 0, n);
    }

    void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                         YAML::EmitterStyle::value) override {
        refuse_tag(tag, mark);
        open(make_list(place(mark)), anchor);
    }
    void OnSequenceEnd() override { close(); }

    void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                    YAML::EmitterStyle::value) override {
        refuse_tag(tag, mark);
        open(make_map(place(mark)), anchor);
    }
    void OnMapEnd() override { close(); }

  private:
    struct Frame {
        Node node;
        YAML::anchor_t anchor = 0;
        size_t nodes = 1;
        bool has_key = false;
        Key key;
        std::map<std::string, Place> seen;
    };
    struct Anchored {
        Node node;
        size_t nodes = 1;
        size_t depth = 1;
    };

    Place place(const YAML::Mark& mark) const { return {file_, mark.line + 1, mark.column + 1}; }

    [[noreturn]] static void too_deep(const Place& at) {
        throw InputError(at, "",
                         fmt::format("lists and maps stand inside each other more than {} deep", deepest));
    }
    [[noreturn]] static void too_many(const Place& at) {
        throw InputError(at, "", fmt::format("more than {} values once aliases are written out", most_nodes));
    }

    void refuse_tag(const std::string& tag, const YAML::Mark& mark) const {
        if (tag.empty() || tag == "?" || tag == "!") return;
        throw InputError(place(mark), "", fmt::format("found the tag `{}`; a case has no tags", tag));
    }

    void open(Node node, YAML::anchor_t anchor) {
        if (frames_.size() >= deepest) too_deep(node.place);
        if (!frames_.empty()) expect_no_key(node.place);
        Frame frame;
        frame.node = std::move(node);
        frame.anchor = anchor;
        frames_.push_back(std::move(frame));
        if (++total_ > most_nodes) too_many(frames_.back().node.place);
    }

    void close() {
        Frame frame = std::move(frames_.back());
        frames_.pop_back();
        total_ -= frame.nodes;  // add() counts them again
        add(std::move(frame.node), frame.anchor, frame.nodes);
    }

    void expect_no_key(const Place& at) const {
        const Frame& frame = frames_.back();
        if (frame.node.is_map() && !frame.has_key)
            throw InputError(at, "", "a key must be plain text; is a bracket left open?");
    }

    void add(Node node, YAML::anchor_t anchor, size_t nodes) {
        total_ += nodes;
        if (total_ > most_nodes) too_many(node.place);
        if (anchor != 0) {
            anchored_total_ += nodes;
            if (anchored_total_ > most_nodes) too_many(node.place);
            anchored_[anchor] = {node, nodes, depth_of(node)};
        }
        if (frames_.empty()) {
            root = std::move(node);
            any = true;
            return;
        }
        Frame& frame = frames_.back();
        frame.nodes += nodes;
        if (frame.node.is_list()) {
            frame.node.items.push_back(std::move(node));
        } else if (!frame.has_key) {
            take_key(frame, node);
        } else {
            frame.node.entries.push_back({std::move(frame.key), std::move(node)});
            frame.has_key = false;
        }
    }

    static void take_key(Frame& frame, const Node& node) {
        if (!node.is_scalar())
            throw InputError(node.place, "", "a key must be plain text; is a bracket left open?");
        if (node.scalar == "<<")
            throw InputError(node.place, "<<", "merge keys are not part of YAML 1.2; write the keys out");
        const auto [first, fresh] = frame.seen.emplace(node.scalar, node.place);
        if (!fresh)
            throw InputError(node.place, node.scalar,
                             fmt::format("the key is given twice, first in line {}, column {}",
                                         first->second.line, first->second.column));
        frame.key = {node.scalar, node.place};
        frame.has_key = true;
    }

    std::string file_;
    std::vector<Frame> frames_;
    std::map<YAML::anchor_t, Anchored> anchored_;
    size_t total_ = 0;
    size_t anchored_total_ = 0;  // in copies kept for aliases
};

/// The place of the first byte that is not UTF-8 (RFC 3629) or is a NUL, line 0 where there is none.
Place first_bad_byte(std::string_view text, const std::string& file) {
    Place at{file, 1, 1};
    for (size_t i = 0; i < text.size();) {
        const auto byte = [&](size_t k) { return static_cast<unsigned char>(text[k]); };
        const unsigned char c = byte(i);
        size_t length = 1;
        unsigned code = c;
        if (c >= 0xf0)
            length = 4, code = c & 0x07u;
        else if (c >= 0xe0)
            length = 3, code = c & 0x0fu;
        else if (c >= 0xc0)
            length = 2, code = c & 0x1fu;
        else if (c >= 0x80)
            return at;
        if (c == 0 || c > 0xf4 || i + length > text.size()) return at;
        for (size_t k = 1; k < length; ++k) {
            if ((byte(i + k) & 0xc0u) != 0x80u) return at;
            code = (code << 6u) | (byte(i + k) & 0x3fu);
        }
        constexpr unsigned smallest[] = {0, 0, 0x80, 0x800, 0x10000};
        if (code < smallest[length] || code > 0x10ffff || (code >= 0xd800 && code < 0xe000)) return at;
        i += length;
        if (c == '\n')
            ++at.line, at.column = 1;
        else
            ++at.column;
    }
    return {file, 0, 0};
}

[[noreturn]] void too_large(const Place& at, const std::string& key) {
    throw InputError(at, key, fmt::format("the file is larger than {} MiB", largest_file / (1024 * 1024)));
}

}  // namespace

const Node* Node::find(std::string_view key) const {
    for (const auto& [k, value] : entries)
        if (k.text == key) return &value;
    return nullptr;
}

Node* Node::find(std::string_view key) {
    return const_cast<Node*>(std::as_const(*this).find(key));
}

Node& Node::put(std::string_view key, Node value) {
    if (Node* old = find(key)) return *old = std::move(value);
    const Place at = value.place;
    entries.push_back({{std::string(key), at}, std::move(value)});
    return entries.back().value;
}

void Node::erase(std::string_view key) {
    std::erase_if(entries, [&](const auto& entry) { return entry.key.text == key; });
}

bool Node::same(const Node& other) const {
    if (kind != other.kind || scalar != other.scalar || items.size() != other.items.size() ||
        entries.size() != other.entries.size())
        return false;
    for (size_t i = 0; i < items.size(); ++i)
        if (!items[i].same(other.items[i])) return false;
    for (const auto& [key, value] : entries) {
        const Node* theirs = other.find(key.text);
        if (!theirs || !value.same(*theirs)) return false;
    }
    return true;
}

Node make_scalar(std::string text, const Place& place) {
    Node node;
    node.kind = Node::Kind::scalar;
    node.place = place;
    node.scalar = std::move(text);
    return node;
}

Node make_map(const Place& place) {
    Node node;
    node.kind = Node::Kind::map;
    node.place = place;
    return node;
}

Node make_list(const Place& place) {
    Node node;
    node.kind = Node::Kind::list;
    node.place = place;
    return node;
}

std::string found_text(const Node& node) {
    switch (node.kind) {
        case Node::Kind::scalar:
            return fmt::format("`{}`", node.scalar);
        case Node::Kind::list:
            return "a list";
        case Node::Kind::map:
            return "a map";
        case Node::Kind::null:
            break;
    }
    return "nothing";
}

Node parse_document(std::string_view text, const std::string& file_name) {
    if (text.size() > largest_file) too_large({file_name, 0, 0}, "");
    if (text.starts_with("\xef\xbb\xbf")) text.remove_prefix(3);
    refuse_utf16(text, file_name);
    if (const Place bad = first_bad_byte(text, file_name); bad.line > 0)
        throw InputError(bad, "", "the text is not UTF-8");
    Builder builder(file_name);
    try {
        // yaml-cpp 0.7 takes the end of the text for a missing closing quote where a line break comes before
        // it. An empty comment at the end makes it an error, and changes nothing else.
        std::istringstream stream{std::string(text) + (text.ends_with('\n') ? "#" : "\n#")};
        YAML::Parser parser(stream);
        parser.HandleNextDocument(builder);
        const bool first = builder.any;
        builder.any = false;
        if (first && parser.HandleNextDocument(builder) && builder.any)
            throw InputError(builder.root.place, "", "a second document begins; a case is one");
    } catch (const YAML::Exception& error) {
        const bool known = !error.mark.is_null();
        throw InputError({file_name, known ? error.mark.line + 1 : 0, known ? error.mark.column + 1 : 0}, "",
                         "this is not YAML: " + error.msg);
    }
    return std::move(builder.root);
}

std::string read_text_file(const std::string& path, const Place& named_at, const std::string& key) {
    namespace fs = std::filesystem;
    const Place at = named_at.file.empty() ? Place{path, 0, 0} : named_at;
    const std::string which = named_at.file.empty() ? "the file" : fmt::format("the file `{}`", path);
    std::error_code error;
    const fs::file_status status = fs::status(path, error);
    if (!fs::exists(status)) throw InputError(at, key, which + " does not exist");
    if (fs::is_directory(status)) throw InputError(at, key, which + " is a directory");
    std::ifstream stream(path, std::ios::binary);
    if (!stream) throw InputError(at, key, which + " cannot be read");
    std::string text;
    std::array<char, 16384> part;
    // Bounded whatever the file is, a device that never ends included.
    while (text.size() <= largest_file) {
        stream.read(part.data(), part.size());
        text.append(part.data(), static_cast<size_t>(stream.gcount()));
        if (!stream) break;
    }
    if (stream.bad()) throw InputError(at, key, which + " cannot be read");
    if (text.size() > largest_file) too_large({path, 0, 0}, "");
    return text;
}

}  // namespace ringquell::internal
