#include "base/text_lines.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <system_error>

namespace ringquell::internal {

LineCutter::LineCutter(std::string_view text) : text_(text) {
    constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";
    if (text_.starts_with(byte_order_mark)) text_.remove_prefix(byte_order_mark.size());
    feed_ = std::min(text_.find('\n'), text_.size());
}

bool LineCutter::next(std::string_view& line) {
    if (text_.empty()) return false;
    ++number_;
    // Each byte is looked at once for LF and once for CR, however the lines end.
    line = text_.substr(0, feed_);
    size_t taken = feed_ + 1;
    if (const size_t end = line.find('\r'); end != std::string_view::npos) {
        line = line.substr(0, end);
        taken = end + 1 == feed_ ? end + 2 : end + 1;
    }
    taken = std::min(taken, text_.size());
    text_.remove_prefix(taken);
    feed_ = taken <= feed_ ? feed_ - taken : std::min(text_.find('\n'), text_.size());
    return true;
}

std::vector<std::string_view> lines_of(std::string_view text) {
    std::vector<std::string_view> lines;
    LineCutter cutter(text);
    for (std::string_view line; cutter.next(line);) lines.push_back(line);
    return lines;
}

std::vector<Word> words_of(std::string_view line) {
    constexpr std::string_view blanks = " \t\v\f";
    std::vector<Word> words;
    size_t begin = line.find_first_not_of(blanks);
    while (begin != std::string_view::npos) {
        const size_t end = std::min(line.find_first_of(blanks, begin), line.size());
        words.push_back({line.substr(begin, end - begin), static_cast<int>(begin) + 1});
        begin = line.find_first_not_of(blanks, end);
    }
    return words;
}

std::vector<Word> fields_of(std::string_view line, char separator) {
    std::vector<Word> fields;
    fields_of(line, separator, fields);
    return fields;
}

void fields_of(std::string_view line, char separator, std::vector<Word>& fields) {
    fields.clear();
    size_t begin = 0;
    for (;;) {
        const size_t end = std::min(line.find(separator, begin), line.size());
        size_t first = begin;
        size_t last = end;
        const auto blank = [&](size_t i) { return line[i] == ' ' || line[i] == '\t'; };
        while (first < last && blank(first)) ++first;
        while (last > first && blank(last - 1)) --last;
        if (last - first >= 2 && line[first] == '"' && line[last - 1] == '"') {
            ++first;
            --last;
        }
        fields.push_back({line.substr(first, last - first), static_cast<int>(first) + 1});
        if (end == line.size()) return;
        begin = end + 1;
    }
}

void refuse_utf16(std::string_view text, const std::string& file) {
    const auto zero = [&](size_t i) { return text[i] == '\0'; };
    const bool alternating =
        text.size() >= 4 && zero(0) == zero(2) && zero(1) == zero(3) && zero(0) != zero(1);
    if (alternating || text.starts_with("\xff\xfe") || text.starts_with("\xfe\xff"))
        throw InputError({file}, "", "the text is UTF-16; expected UTF-8 (save the file as that)");
}

std::string_view trimmed(std::string_view text, std::string_view characters) {
    const size_t first = text.find_first_not_of(characters);
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(characters) - first + 1);
}

std::string lower_case(std::string_view text) {
    std::string out(text);
    for (char& c : out) {
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    }
    return out;
}

std::optional<double> number_of(std::string_view word) {
    if (word.starts_with('+') && !word.starts_with("+-")) word.remove_prefix(1);
    double value = 0;
    const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), value);
    if (error != std::errc() || end != word.data() + word.size() || !std::isfinite(value))
        return std::nullopt;
    return value;
}

std::string no_number(std::string_view word) {
    std::string pointed(word);
    std::replace(pointed.begin(), pointed.end(), ',', '.');
    if (pointed != word && number_of(pointed))
        return fmt::format("found `{}`, with a decimal comma; expected a point, as in `{}`", word, pointed);
    return fmt::format("found `{}`; expected a number", word);
}

}  // namespace ringquell::internal
