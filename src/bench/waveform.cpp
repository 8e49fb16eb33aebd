// The samples of a scope's export.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

#include "base/columns.h"
#include "base/nearest.h"
#include "base/text_file.h"
#include "base/text_lines.h"
#include "ringquell/ring_fit.h"

namespace ringquell {

using namespace internal;

namespace {

constexpr std::string_view waveform_separators = "\t;,";

struct UnitTable {
    const char* what;
    const char* expected;
    std::map<std::string, double, std::less<>> factors;
};

const UnitTable time_units{"the time",
                           "s, ms, us, ns or ps",
                           {{"s", 1},
                            {"ms", 1e-3},
                            {"us", 1e-6},
                            {"\u00B5s", 1e-6},
                            {"\u03BCs", 1e-6},
                            {"ns", 1e-9},
                            {"ps", 1e-12}}};
const UnitTable value_units{"the value",
                            "V or A, with a prefix as in mV",
                            {{"V", 1},
                             {"mV", 1e-3},
                             {"uV", 1e-6},
                             {"\u00B5V", 1e-6},
                             {"\u03BCV", 1e-6},
                             {"kV", 1e3},
                             {"A", 1},
                             {"mA", 1e-3},
                             {"uA", 1e-6},
                             {"\u00B5A", 1e-6},
                             {"\u03BCA", 1e-6},
                             {"kA", 1e3}}};

/// `t [ns]`, `t (ns)`, `t_ns`; without a unit the whole is the name.
struct ColumnName {
    std::string_view whole, name;
    std::optional<std::string_view> unit;  // in brackets, known or not; or after _ where it is known
};

ColumnName column_name(std::string_view field) {
    for (const char* brackets : {"[]", "()"})
        if (field.ends_with(brackets[1]))
            if (const size_t open = field.rfind(brackets[0]); open != std::string_view::npos)
                return {field, trimmed(field.substr(0, open)),
                        trimmed(field.substr(open + 1, field.size() - open - 2))};
    if (const size_t bar = field.rfind('_'); bar != std::string_view::npos) {
        const std::string_view last = field.substr(bar + 1);
        if (time_units.factors.contains(last) || value_units.factors.contains(last))
            return {field, field.substr(0, bar), last};
    }
    return {field, field, std::nullopt};
}

/// A column as it was asked for: by name, by number from 1, or not at all.
struct Asked {
    std::string name;
    size_t otherwise = 0;

    std::optional<size_t> number() const {
        if (name.empty()) return otherwise;
        if (name.find_first_not_of("0123456789") != std::string::npos || name.size() > 4) return std::nullopt;
        const int n = std::stoi(name);
        return n > 0 ? std::optional<size_t>(static_cast<size_t>(n - 1)) : std::nullopt;
    }
    std::optional<size_t> in(const std::vector<Word>& fields) const {
        for (size_t k = 0; k < fields.size() && !name.empty(); ++k) {
            const ColumnName column = column_name(fields[k].text);
            if (column.whole == name || column.name == name) return k;
        }
        return number();
    }
};

/// With which digits the times were printed. Trailing zeros may be dropped, so the most of any row count; where significant
/// digits are what is kept, the largest time has the coarsest last place.
class PrintedDigits {
  public:
    void add(std::string_view word) {
        const size_t exponent_at = word.find_first_of("eE");
        const std::string_view mantissa = word.substr(0, exponent_at);
        if (mantissa.find_first_of("123456789") == std::string_view::npos) return;  // zero has no size
        const size_t point = mantissa.find('.');
        const int decimals =
            point == std::string_view::npos ? 0 : static_cast<int>(mantissa.size() - point - 1);
        if (exponent_at == std::string_view::npos) {
            plain_decimals_ = std::max(plain_decimals_.value_or(0), decimals);
            const size_t leading = std::min(mantissa.find_first_of("123456789"), mantissa.size());
            const bool point_after = point != std::string_view::npos && point > leading;
            significant_ =
                std::max(significant_, static_cast<int>(mantissa.size() - leading) - (point_after ? 1 : 0));
            // Of 0.004 none are before the point; of 123.4 three.
            if (leading < std::min(point, mantissa.size()))
                places_ = std::max(places_, static_cast<int>(std::min(point, mantissa.size()) - leading));
            return;
        }
        const auto exponent = number_of(word.substr(exponent_at + 1));
        if (!exponent) return;
        largest_exponent_ = std::max(largest_exponent_.value_or(-400), static_cast<int>(*exponent));
        decimals_ = std::max(decimals_, decimals);
    }
    double resolution() const {
        double out = 0;
        if (plain_decimals_) out = std::pow(10.0, std::max(-*plain_decimals_, places_ - significant_));
        if (largest_exponent_) out = std::max(out, std::pow(10.0, *largest_exponent_ - decimals_));
        return out;
    }

  private:
    std::optional<int> plain_decimals_, largest_exponent_;
    int decimals_ = 0, significant_ = 0, places_ = 0;  // places: digits before the point
};

class WaveformReader {
  public:
    WaveformReader(const std::string& file, const std::string& time, const std::string& value)
        : file_(file), time_{time, 0}, value_{value, 1} {}

    Waveform read(std::string_view text) {
        refuse_utf16(text, file_);
        find_header(text);
        LineCutter cutter(text);
        for (std::string_view line; cutter.next(line);) {
            if (cutter.number() <= header_line_) continue;
            const std::string_view content = content_of(line);
            if (content.empty()) continue;
            line_ = cutter.number();
            fields_of(content, separator_, fields_);
            count_fields();
            if (out_.value.empty() && header_line_ > 0 && !units_row_seen_ && is_units_row()) continue;
            add_row();
        }
        if (out_.value.empty()) fail(0, "found no sample; expected a header and a value against time");
        out_.time_resolution_s = printed_.resolution() * time_unit_.value_or(1);
        return std::move(out_);
    }

  private:
    [[noreturn]] void fail(int column, const std::string& text) const {
        throw InputError({file_, line_, column}, "", text);
    }

    /// The line that has both columns; what names no column by its letters takes the first.
    void find_header(std::string_view text) {
        constexpr int most_lines = 100;
        LineCutter cutter(text);
        FieldLine first;
        char first_separator = ',';
        int seen = 0;
        for (std::string_view line; cutter.next(line) && seen < most_lines;) {
            const std::string_view content = content_of(line);
            if (content.empty()) continue;
            ++seen;
            const char separator = separator_of(content, waveform_separators);
            FieldLine cut{cutter.number(), content, fields_of(content, separator)};
            if (time_.in(cut.fields) && value_.in(cut.fields)) return take_header(cut, separator);
            if (first.fields.size() < 2) {
                first = std::move(cut);
                first_separator = separator;
            }
        }
        line_ = first.line;
        if (line_ == 0) fail(0, "found no sample; expected a header and a value against time");
        if (first.fields.size() < 2) take_header(first, first_separator);  // and fail
        std::vector<std::string> names;
        names.reserve(first.fields.size());
        for (const Word& field : first.fields) names.emplace_back(column_name(field.text).name);
        const std::string& name = time_.in(first.fields) ? value_.name : time_.name;
        fail(1, fmt::format("found no column `{}`", name) + suggestion(name, names));
    }

    void take_header(const FieldLine& cut, char separator) {
        line_ = cut.line;
        separator_ = separator;
        if (cut.fields.size() < 2)
            fail(1, "found one column; expected a time and a value, parted by comma, semicolon or tab");
        columns_ = cut.fields.size();
        while (columns_ > 2 && cut.fields[columns_ - 1].text.empty()) --columns_;
        time_index_ = *time_.in(cut.fields);
        value_index_ = *value_.in(cut.fields);
        for (const size_t index : {time_index_, value_index_})
            if (index >= columns_) fail(1, fmt::format("found {} columns; expected {}", columns_, index + 1));
        if (time_index_ == value_index_)
            fail(cut.fields[time_index_].column,
                 fmt::format("found `{}` for both time and value; expected two columns",
                             cut.fields[time_index_].text));
        const auto number = [](const Word& word) { return number_of(word.text).has_value(); };
        if (std::all_of(cut.fields.begin(), cut.fields.begin() + static_cast<long>(columns_), number)) return;
        header_line_ = cut.line;
        const ColumnName time = column_name(cut.fields[time_index_].text),
                         value = column_name(cut.fields[value_index_].text);
        time_word_ = cut.fields[time_index_];
        if (time.unit) time_unit_ = unit(*time.unit, time_units, cut.fields[time_index_].column);
        if (value.unit) value_unit_ = unit(*value.unit, value_units, cut.fields[value_index_].column);
        if (value.unit && !time.unit) value_unit_alone_ = true;
    }

    double unit(std::string_view word, const UnitTable& table, int column) const {
        if (word.empty())
            fail(column, fmt::format("found no unit of {}; expected {}", table.what, table.expected));
        const auto found = table.factors.find(word);
        if (found == table.factors.end())
            fail(column, fmt::format("found unit `{}` of {}; expected {}", word, table.what, table.expected));
        return found->second;
    }

    /// `ns,mV` or `(ns),(mV)` below the names.
    bool is_units_row() {
        units_row_seen_ = true;
        const auto bare = [](std::string_view word) {
            const bool brackets = word.size() >= 2 && ((word.front() == '(' && word.back() == ')') ||
                                                       (word.front() == '[' && word.back() == ']'));
            return brackets ? trimmed(word.substr(1, word.size() - 2)) : word;
        };
        const Word &time = fields_[time_index_], &value = fields_[value_index_];
        const std::string_view time_word = bare(time.text), value_word = bare(value.text);
        const bool time_known = time_units.factors.contains(time_word),
                   value_known = value_units.factors.contains(value_word);
        const bool numbers = number_of(time.text) || number_of(value.text);
        // A row of words is one of units, known or not; beside a number only where the other is a unit.
        const bool units = time_known || value_known || (!numbers && !time.text.empty());
        if (units) {
            set_unit(time_unit_, unit(time_word, time_units, time.column), time);
            if (!value_word.empty())
                set_unit(value_unit_, unit(value_word, value_units, value.column), value);
        }
        if (!time_unit_ && value_unit_alone_) {
            line_ = header_line_;
            fail(time_word_.column,
                 fmt::format("found no unit of {}; expected {}", time_units.what, time_units.expected));
        }
        return units;
    }

    void set_unit(std::optional<double>& unit, double found, const Word& word) const {
        if (unit && *unit != found)
            fail(word.column,
                 fmt::format("found unit `{}` below a header with another; expected one unit", word.text));
        unit = found;
    }

    void count_fields() {
        while (fields_.size() > columns_ && fields_.back().text.empty()) fields_.pop_back();
        if (fields_.size() == columns_) return;
        const bool numbers = std::all_of(fields_.begin(), fields_.end(),
                                         [](const Word& w) { return number_of(w.text).has_value(); });
        fail(1, fmt::format("found {} fields; expected {}{}", fields_.size(), columns_,
                            separator_ == ',' && fields_.size() > columns_ && numbers
                                ? " (decimal commas? They part the fields: write points)"
                                : ""));
    }

    double number(const Word& word) const {
        const auto value = number_of(word.text);
        if (!value) fail(word.column, no_number(word.text));
        return *value;
    }

    void add_row() {
        const Word& word = fields_[time_index_];
        const double time_s = number(word) * time_unit_.value_or(1);
        if (!out_.time_s.empty() && time_s <= out_.time_s.back())
            fail(word.column,
                 fmt::format("found time {:.9g} s after {:.9g} s; expected rising times{}", time_s,
                             out_.time_s.back(),
                             time_s == out_.time_s.back() ? " (too few digits to tell samples apart?)" : ""));
        printed_.add(word.text);
        out_.time_s.push_back(time_s);
        out_.value.push_back(number(fields_[value_index_]) * value_unit_.value_or(1));
    }

    const std::string& file_;
    Asked time_, value_;
    char separator_ = ',';
    size_t columns_ = 0, time_index_ = 0, value_index_ = 1;
    int header_line_ = 0, line_ = 0;
    bool units_row_seen_ = false, value_unit_alone_ = false;
    Word time_word_;
    std::optional<double> time_unit_, value_unit_;
    std::vector<Word> fields_;
    PrintedDigits printed_;
    Waveform out_;
};

}  // namespace

Waveform read_waveform(const std::string& path, const std::string& time_column,
                       const std::string& value_column) {
    const std::string text = text_of_file(path, largest_waveform_file_bytes, "the samples of a record");
    return WaveformReader(path, time_column, value_column).read(text);
}

}  // namespace ringquell
