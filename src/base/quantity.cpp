#include "ringquell/quantity.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdlib>
#include <optional>
#include <vector>

#include "base/text_lines.h"

namespace ringquell {
namespace {

struct Unit {
    Dimension dimension;
    const char* text;
    bool prefixes;
    int exponent;  // of ten, to the SI unit
};

constexpr std::array units{
    Unit{Dimension::resistance, "ohm", true, 0},    Unit{Dimension::resistance, "Ohm", true, 0},
    Unit{Dimension::resistance, "\u03a9", true, 0},  // Greek capital omega
    Unit{Dimension::resistance, "\u2126", true, 0},  // ohm sign
    Unit{Dimension::inductance, "H", true, 0},      Unit{Dimension::capacitance, "F", true, 0},
    Unit{Dimension::conductance, "S", true, 0},     Unit{Dimension::voltage, "V", true, 0},
    Unit{Dimension::current, "A", true, 0},         Unit{Dimension::time, "s", true, 0},
    Unit{Dimension::frequency, "Hz", true, 0},      Unit{Dimension::length, "m", true, 0},
    Unit{Dimension::temperature, "degC", false, 0}, Unit{Dimension::temperature, "\u00b0C", false, 0},
    Unit{Dimension::per_volt, "/V", false, 0},      Unit{Dimension::per_volt, "1/V", false, 0},
    Unit{Dimension::per_kelvin, "/K", false, 0},    Unit{Dimension::per_kelvin, "1/K", false, 0},
    Unit{Dimension::per_kelvin, "%", false, -2},    Unit{Dimension::per_kelvin, "%/K", false, -2},
    Unit{Dimension::per_kelvin, "", false, 0},      Unit{Dimension::share, "%", false, -2},
    Unit{Dimension::share, "", false, 0},           Unit{Dimension::number, "", false, 0},
};

struct Prefix {
    const char* text;
    int exponent;
};
constexpr std::array prefixes{Prefix{"", 0},   Prefix{"f", -15},     Prefix{"p", -12},     Prefix{"n", -9},
                              Prefix{"u", -6}, Prefix{"\u00b5", -6}, Prefix{"\u03bc", -6}, Prefix{"m", -3},
                              Prefix{"k", 3},  Prefix{"M", 6},       Prefix{"G", 9}};

struct Described {
    Dimension dimension;
    const char* name;
    const char* example;
    const char* unit;
};
constexpr std::array described{
    Described{Dimension::resistance, "a resistance", "4.7 ohm", "ohm"},
    Described{Dimension::inductance, "an inductance", "12 nH", "H"},
    Described{Dimension::capacitance, "a capacitance", "220 pF", "F"},
    Described{Dimension::conductance, "a conductance", "38 S", "S"},
    Described{Dimension::voltage, "a voltage", "18 V", "V"},
    Described{Dimension::current, "a current", "200 A", "A"},
    Described{Dimension::time, "a time", "20 ns", "s"},
    Described{Dimension::frequency, "a frequency", "30 MHz", "Hz"},
    Described{Dimension::length, "a length", "12 mm", "m"},
    Described{Dimension::temperature, "a temperature", "125 degC", "degC"},
    Described{Dimension::per_volt, "a share per volt", "0.0004 /V", "/V"},
    Described{Dimension::per_kelvin, "a share per kelvin", "0.3 %", "/K"},
    Described{Dimension::share, "a share", "0.15", ""},
    Described{Dimension::number, "a number without a unit", "2", ""},
};

const Described& describe(Dimension dimension) {
    return described.at(static_cast<size_t>(dimension));
}

/// The power of ten that `unit` stands for, if it is a unit of the dimension.
std::optional<int> unit_exponent(std::string_view unit, Dimension dimension) {
    for (const Unit& u : units) {
        if (u.dimension != dimension) continue;
        if (unit == u.text) return u.exponent;
        if (!u.prefixes || !unit.ends_with(u.text)) continue;
        const std::string_view head = unit.substr(0, unit.size() - std::string_view(u.text).size());
        for (const Prefix& p : prefixes)
            if (head == p.text) return u.exponent + p.exponent;
    }
    return std::nullopt;
}

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

/// A decimal number at the front of a text: its digits with sign, its exponent, and what follows.
struct Decimal {
    std::string mantissa;
    long exponent = 0;
    std::string_view rest;
};

std::optional<Decimal> split_decimal(std::string_view text) {
    Decimal out;
    size_t i = 0, digits = 0;
    if (i < text.size() && (text[i] == '+' || text[i] == '-')) {
        if (text[i] == '-') out.mantissa += '-';
        ++i;
    }
    for (bool point = false; i < text.size(); ++i) {
        if (is_digit(text[i]))
            ++digits;
        else if (text[i] == '.' && !point)
            point = true;
        else
            break;
        out.mantissa += text[i];
    }
    if (digits == 0) return std::nullopt;
    if (i < text.size() && (text[i] == 'e' || text[i] == 'E')) {
        size_t j = i + 1;
        const bool negative = j < text.size() && text[j] == '-';
        if (j < text.size() && (text[j] == '+' || text[j] == '-')) ++j;
        if (j < text.size() && is_digit(text[j])) {
            constexpr long beyond_any_double = 100000;
            for (; j < text.size() && is_digit(text[j]); ++j)
                out.exponent = std::min(beyond_any_double, out.exponent * 10 + (text[j] - '0'));
            if (negative) out.exponent = -out.exponent;
            i = j;
        }
    }
    out.rest = text.substr(i);
    return out;
}

/// Correctly rounded: the prefix goes into the decimal exponent, so that `7 nH` is the double nearest to
/// 7e-9.
std::optional<double> to_double(const std::string& mantissa, long exponent) {
    const std::string text = fmt::format("{}e{}", mantissa, exponent);
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc() || end != text.data() + text.size() || !std::isfinite(value))
        return std::nullopt;
    return value;
}

/// IEC 60062, clause 3: the letter stands where the decimal point is. R47, 4R7, 4K7, 47K3, 1M0.
std::optional<double> resistor_code(std::string_view text) {
    std::string mantissa;
    int exponent = 0, letters = 0, digits = 0;
    for (const char c : text) {
        if (is_digit(c)) {
            mantissa += c;
            ++digits;
        } else if (c == 'R' || c == 'r' || c == 'K' || c == 'k' || c == 'M') {
            exponent = c == 'R' || c == 'r' ? 0 : c == 'M' ? 6 : 3;
            mantissa += '.';
            ++letters;
        } else {
            return std::nullopt;
        }
    }
    if (letters != 1 || digits == 0) return std::nullopt;
    return to_double(mantissa, exponent);
}

std::string complaint(std::string_view unit, Dimension dimension) {
    if (unit.empty()) return " (a unit is missing)";
    for (const Described& d : described)
        if (d.dimension != dimension && unit_exponent(unit, d.dimension))
            return fmt::format(" (`{}` is the unit of {})", unit, d.name);
    return fmt::format(" (`{}` is not a unit)", unit);
}

}  // namespace

std::string expected_text(Dimension dimension) {
    const Described& d = describe(dimension);
    return fmt::format("{} such as `{}`", d.name, d.example);
}

std::string_view unit_name(Dimension dimension) {
    return describe(dimension).unit;
}

double parse_quantity(std::string_view text, Dimension dimension, const Place& place,
                      const std::string& key) {
    const auto fail = [&](const std::string& why) -> double {
        throw InputError(place, key,
                         fmt::format("found `{}`, expected {}{}", text, expected_text(dimension), why));
    };
    const std::string_view body = internal::trimmed(text);
    if (dimension == Dimension::resistance)
        if (const auto value = resistor_code(body)) return *value;
    const auto decimal = split_decimal(body);
    if (!decimal) return fail("");
    const std::string_view unit = internal::trimmed(decimal->rest);
    if (unit.size() > 1 && unit[0] == ',' && is_digit(unit[1]))
        return fail(" (a decimal comma: write a point)");
    const auto exponent = unit_exponent(unit, dimension);
    if (!exponent) return fail(complaint(unit, dimension));
    const auto value = to_double(decimal->mantissa, decimal->exponent + *exponent);
    if (!value) return fail(" (the number is too large or too small)");
    return *value;
}

std::string write_quantity(double value, Dimension dimension) {
    const std::string_view unit = unit_name(dimension);
    return unit.empty() ? fmt::format("{}", value) : fmt::format("{} {}", value, unit);
}

std::string engineering(double value, Dimension dimension, int digits) {
    digits = std::clamp(digits, 1, 17);
    std::string unit{unit_name(dimension)};
    if (!std::isfinite(value))
        return unit.empty() ? fmt::format("{}", value) : fmt::format("{} {}", value, unit);
    if (dimension == Dimension::share || dimension == Dimension::per_kelvin) {
        value *= 100;
        unit = dimension == Dimension::share ? "%" : "%/K";
    }
    const bool with_prefix = std::any_of(
        units.begin(), units.end(), [&](const Unit& u) { return u.dimension == dimension && u.prefixes; });
    // The exponent after rounding, so that 999.96 becomes 1 k and not 1000.
    const std::string rounded = fmt::format("{:.{}e}", value, digits - 1);
    const int exponent = value == 0 ? 0 : std::atoi(rounded.c_str() + rounded.find('e') + 1);
    int shift = 0;
    std::string prefix;
    if (with_prefix) {
        shift = std::clamp(static_cast<int>(std::floor(exponent / 3.0)) * 3, -15, 9);
        for (const Prefix& p : prefixes)
            if (p.exponent == shift && prefix.empty()) prefix = p.text;
    }
    std::string number;
    if (exponent - shift > 15 || exponent - shift < -5) {
        number = fmt::format("{:.{}g}", value / std::pow(10.0, shift), digits);
    } else {
        const int decimals = std::max(0, digits - 1 - (exponent - shift));
        // Through the rounded text: one rounding only.
        const auto mantissa = split_decimal(rounded);
        const double scaled = to_double(mantissa->mantissa, mantissa->exponent - shift).value_or(value);
        number = fmt::format("{:.{}f}", scaled, decimals);
        if (number.find('.') != std::string::npos) {
            number.erase(number.find_last_not_of('0') + 1);
            if (number.back() == '.') number.pop_back();
        }
    }
    const std::string tail = prefix + unit;
    return tail.empty() ? number : number + " " + tail;
}

}  // namespace ringquell
