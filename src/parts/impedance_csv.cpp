#include "parts/impedance_csv.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <set>

#include "base/columns.h"
#include "base/text_lines.h"
#include "parts/impedance_rows.h"

namespace ringquell::internal {

namespace {

enum class Role { frequency, resistance, reactance, phase, magnitude };

/// The first role that has one of the words wins: "phase of Z" is a phase, "Re(Z)" a resistance.
const std::vector<std::pair<Role, std::set<std::string>>> role_words{
    {Role::frequency, {"f", "freq", "frequency"}},
    {Role::resistance, {"r", "rs", "re", "real", "resistance"}},
    {Role::reactance, {"x", "xs", "im", "imag", "imaginary", "reactance"}},
    {Role::phase, {"phase", "theta", "angle", "arg", "phi", "\u03B8", "\u03C6"}},
    {Role::magnitude, {"|z|", "z", "zmag", "mag", "magnitude", "abs", "modulus", "impedance"}}};

const std::map<std::string, double> frequency_units{{"hz", 1}, {"khz", 1e3}, {"mhz", 1e6}, {"ghz", 1e9}};
const std::map<std::string, double> ohm_units{{"ohm", 1},     {"ohms", 1},      {"\u03A9", 1},
                                              {"\u2126", 1},  {"kohm", 1e3},    {"k\u03A9", 1e3},
                                              {"mohm", 1e-3}, {"m\u03A9", 1e-3}};
const std::map<std::string, double> angle_units{
    {"deg", 1}, {"degree", 1}, {"degrees", 1}, {"\u00B0", 1}, {"rad", 180 / std::numbers::pi}};

const std::map<std::string, double>& units_of(Role role) {
    return role == Role::frequency ? frequency_units : role == Role::phase ? angle_units : ohm_units;
}

/// Letters, digits, | and what is beyond ASCII make words; all else parts them.
std::vector<std::string> header_words(std::string_view field) {
    std::vector<std::string> words(1);
    for (const char c : field) {
        const bool letter = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                            c == '|' || (c & 0x80) != 0;
        if (letter) {
            words.back() += c;
        } else if (!words.back().empty()) {
            words.emplace_back();
        }
    }
    if (words.back().empty()) words.pop_back();
    return words;
}

struct Column {
    size_t index = 0;
    double unit = 1;
};

struct Header {
    size_t fields = 0;
    std::map<Role, Column> columns;
    bool rectangular = true;
    bool commas = true;  // part the fields
};

struct TableReader {
    const std::string& file;

    [[noreturn]] void fail(int line, int column, const std::string& text) const {
        throw InputError({file, line, column}, "", text);
    }

    std::optional<std::pair<Role, double>> role_of(const Word& field, int line) const {
        const auto words = header_words(field.text);
        for (const auto& [role, names] : role_words) {
            bool named = false;
            std::optional<double> unit;
            for (const std::string& word : words) {
                const std::string low = lower_case(word);
                named = named || names.contains(low);
                // "Mohm" would be read as milliohm: such a word is no unit here.
                if (role != Role::frequency && word.starts_with('M')) continue;
                const auto found = units_of(role).find(low);
                if (found != units_of(role).end()) unit = found->second;
            }
            if (!named) continue;
            if (role == Role::frequency && !unit) {
                fail(
                    line, field.column,
                    fmt::format("found column `{}` without a unit; expected Hz, kHz, MHz or GHz, as in f_MHz",
                                field.text));
            }
            if (!unit && words.size() > 1) {
                // Something follows the name that may be a unit that is not known: better refused than
                // guessed.
                const std::string& last = words.back();
                const std::string low = lower_case(last);
                const bool a_unit = low.ends_with("ohm") || low.ends_with("ohms") || low.ends_with("hz") ||
                                    low.ends_with("\u03A9") || low.ends_with("\u2126");
                if (a_unit)
                    fail(line, field.column,
                         fmt::format("found unit `{}`; expected ohm, mohm, kohm, deg or rad", last));
            }
            return std::pair{role, unit.value_or(1)};
        }
        return std::nullopt;
    }

    Header header(const FieldLine& cut, char separator) const {
        const auto& [line, text, fields] = cut;
        Header out;
        out.commas = separator == ',';
        out.fields = fields.size();
        for (size_t i = 0; i < fields.size(); ++i) {
            const auto role = role_of(fields[i], line);
            if (!role) continue;
            if (!out.columns.emplace(role->first, Column{i, role->second}).second) {
                fail(line, fields[i].column,
                     fmt::format("found a second column of one kind, `{}`; expected one", fields[i].text));
            }
        }
        const auto has = [&](Role role) { return out.columns.contains(role); };
        out.rectangular = has(Role::resistance) && has(Role::reactance);
        if (!has(Role::frequency) || !(out.rectangular || (has(Role::magnitude) && has(Role::phase)))) {
            fail(line, 1,
                 fmt::format("found header `{}`; expected columns for frequency and R, X or |Z|, phase, as "
                             "in `f_MHz,R_ohm,X_ohm`",
                             text));
        }
        return out;
    }

    double number(const Word& field, int line) const {
        const auto value = number_of(field.text);
        if (!value) fail(line, field.column, no_number(field.text));
        return *value;
    }

    ImpedancePoint point(const Header& header, const FieldLine& cut) const {
        const int line = cut.line;
        const std::vector<Word>& fields = cut.fields;
        if (fields.size() != header.fields) {
            const bool decimal_commas =
                header.commas && fields.size() > header.fields &&
                std::all_of(fields.begin(), fields.end(), [](const Word& w) { return number_of(w.text); });
            fail(line, 1,
                 fmt::format("found {} fields; expected {}, as in the header{}", fields.size(), header.fields,
                             decimal_commas ? " (decimal commas? They part the fields: write points)" : ""));
        }
        const auto get = [&](Role role) {
            const Column& column = header.columns.at(role);
            return column.unit * number(fields[column.index], line);
        };
        ImpedancePoint out;
        out.frequency_hz = get(Role::frequency);
        if (out.frequency_hz < 0)
            fail(line, 1, fmt::format("found frequency {} Hz; expected 0 or more", out.frequency_hz));
        if (header.rectangular) {
            out.impedance_ohm = {get(Role::resistance), get(Role::reactance)};
        } else {
            const double magnitude = get(Role::magnitude);
            if (magnitude < 0) {
                fail(line, fields[header.columns.at(Role::magnitude).index].column,
                     fmt::format("found |Z| = {}; expected 0 or more", magnitude));
            }
            const double angle = get(Role::phase);
            out.impedance_ohm = std::polar(magnitude, angle * std::numbers::pi / 180);
            out.passive = std::abs(std::remainder(angle, 360.0)) <= 90;
            return out;
        }
        out.passive = out.impedance_ohm.real() >= 0;
        return out;
    }
};

}  // namespace

std::vector<ImpedancePoint> parse_impedance_csv(const std::string& text, const std::string& file,
                                                std::vector<Warning>* warnings) {
    refuse_utf16(text, file);
    const TableReader reader{file};
    const ColumnText cut = columns_of(text, "\t;,");
    ImpedanceRows rows(file);
    if (cut.header.line != 0) {
        const Header header = reader.header(cut.header, cut.separator);
        for (const FieldLine& row : cut.rows) rows.add(reader.point(header, row), row.line, 1);
    }
    if (rows.rows() == 0)
        reader.fail(0, 0, "found no point; expected a header and an impedance against frequency");
    if (warnings) rows.add_warnings(*warnings);
    return rows.points();
}

}  // namespace ringquell::internal
