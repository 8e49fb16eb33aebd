#include "reader/starter_text.h"

#include <fmt/format.h>

#include "case/key.h"

namespace ringquell::internal {

namespace {

constexpr int digits_stated = 9, digits_typical = 3;

}  // namespace

void StarterText::line(const std::string& text) {
    out_ += text + "\n";
}

std::string StarterText::path_of(const std::string& key) const {
    std::string out;
    for (const std::string& outer : within_) out = join_key(out, outer);
    return join_key(out, key);
}

void StarterText::entry(const std::string& key, const std::string& value, const std::string& comment) {
    constexpr size_t column = 40;
    std::string text = std::string(2 * within_.size(), ' ') + key + ": " + value;
    if (!comment.empty()) {
        if (text.size() + 2 < column) text.resize(column - 2, ' ');
        text += "  # " + comment;
    }
    line(text);
}

void StarterText::open(const std::string& key) {
    line(std::string(2 * within_.size(), ' ') + key + ":");
    within_.push_back(key);
}

void StarterText::close() {
    within_.pop_back();
}

void StarterText::plain(const std::string& key, const std::string& value, const std::string& comment) {
    entry(key, value, comment);
}

void StarterText::stated(const std::string& key, double value, Dimension dimension) {
    entry(key, engineering(value, dimension, digits_stated), "datasheet");
}

void StarterText::derived(const std::string& key, double value, Dimension dimension,
                          const std::string& from) {
    entry(key, engineering(value, dimension, digits_stated / 2), "from " + from);
}

void StarterText::assumed(const std::string& key, double value, Dimension dimension,
                          const std::string& tolerance, const std::string& why) {
    entry(key, engineering(value, dimension, digits_typical),
          "assumed, common practice" + (why.empty() ? "" : ": " + why));
    assumed_.push_back({path_of(key), tolerance});
}

void StarterText::either(const std::string& key, const std::optional<double>& stated_value, double typical,
                         Dimension dimension, const std::string& tolerance) {
    if (stated_value)
        stated(key, *stated_value, dimension);
    else
        assumed(key, typical, dimension, tolerance);
}

void StarterText::finish() {
    line("");
    line("# How far each assumed value may be off, at all positions alike.");
    line("spread:");
    for (const Entry& e : assumed_)
        line(fmt::format("  {}: {{tolerance: {}, vary: batch}}", e.key, e.tolerance));
    line("");
    line(
        "# Take a key out of this list when you have replaced its value by a measured or stated one, and "
        "give it");
    line("# its own tolerance above.");
    line("assumed:");
    for (const Entry& e : assumed_) line("  - " + e.key);
}

}  // namespace ringquell::internal
