#include "base/text_lines.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <system_error>

namespace ringquell::internal {

std::vector<std::string_view> lines_of(std::string_view text) {
    constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";
    if (text.starts_with(byte_order_mark)) text.remove_prefix(byte_order_mark.size());
    std::vector<std::string_view> lines;
    while (!text.empty()) {
        const size_t end = text.find_first_of("\r\n");
        lines.push_back(text.substr(0, end));
        if (end == std::string_view::npos) break;
        text.remove_prefix(end + (text.substr(end).starts_with("\r\n") ? 2 : 1));
    }
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
        if (end == line.size()) return fields;
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
