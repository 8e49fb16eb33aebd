#include "parts/touchstone.h"

#include <fmt/format.h>

#include <cmath>
#include <numbers>
#include <optional>

#include "base/text_lines.h"
#include "parts/impedance_rows.h"

namespace ringquell::internal {

namespace {

enum class Parameter { s, y, z };
enum class Format { magnitude_angle, decibel_angle, real_imaginary };

struct Options {
    double unit_hz = 1e9;
    Parameter parameter = Parameter::s;
    Format format = Format::magnitude_angle;
    double resistance_ohm = 50;
};

class TouchstoneReader {
  public:
    TouchstoneReader(const std::string& text, const std::string& file)
        : file_(file), lines_(lines_of(text)), rows_(file) {}

    std::vector<ImpedancePoint> read(std::vector<Warning>& warnings) {
        for (line_ = 1; line_ <= static_cast<int>(lines_.size()) && !ended_; ++line_) {
            const std::string_view whole = lines_[line_ - 1];
            const std::string_view content = whole.substr(0, whole.find('!'));
            const auto words = words_of(content);
            if (words.empty()) continue;
            if (in_information_) {
                if (lower_case(content.substr(0, content.find(']') + 1)) == "[end information]")
                    in_information_ = false;
            } else if (words[0].text.starts_with('#')) {
                if (!options_) option_line(content);  // the specification: later ones are ignored
            } else if (words[0].text.starts_with('[')) {
                keyword(content, words[0].column);
            } else if (awaits_reference_) {
                reference(words);
            } else {
                data(words);
            }
        }
        finish(warnings);
        rows_.add_warnings(warnings);
        return rows_.points();
    }

  private:
    [[noreturn]] void fail(int column, const std::string& text) const {
        throw InputError({file_, line_, column}, "", text);
    }

    double number(const Word& word) const {
        const auto value = number_of(word.text);
        if (!value) fail(word.column, no_number(word.text));
        return *value;
    }

    double resistance(const Word& word) const {
        const double value = number(word);
        if (value <= 0)
            fail(word.column, fmt::format("found reference resistance {} ohm; expected above 0", value));
        return value;
    }

    void option_line(std::string_view content) {
        Options out;
        // "#MHz" is as good as "# MHz": blank out the sign, keep the columns.
        std::string text(content);
        text[text.find('#')] = ' ';
        const auto words = words_of(text);
        for (size_t i = 0; i < words.size(); ++i) {
            const std::string word = lower_case(words[i].text);
            if (word == "hz") {
                out.unit_hz = 1;
            } else if (word == "khz") {
                out.unit_hz = 1e3;
            } else if (word == "mhz") {
                out.unit_hz = 1e6;
            } else if (word == "ghz") {
                out.unit_hz = 1e9;
            } else if (word == "s") {
                out.parameter = Parameter::s;
            } else if (word == "y") {
                out.parameter = Parameter::y;
            } else if (word == "z") {
                out.parameter = Parameter::z;
            } else if (word == "ma") {
                out.format = Format::magnitude_angle;
            } else if (word == "db") {
                out.format = Format::decibel_angle;
            } else if (word == "ri") {
                out.format = Format::real_imaginary;
            } else if (word == "r") {
                if (i + 1 == words.size())
                    fail(words[i].column, "found R without a value; expected a resistance, as in R 50");
                out.resistance_ohm = resistance(words[++i]);
            } else if (word == "h" || word == "g") {
                fail(words[i].column,
                     fmt::format("found {} parameters, which two ports have; expected S, Y or Z",
                                 words[i].text));
            } else {
                fail(words[i].column,
                     fmt::format(
                         "found `{}`; expected Hz, kHz, MHz, GHz, S, Y, Z, MA, DB, RI or R and a resistance",
                         words[i].text));
            }
        }
        options_ = out;
    }

    /// What follows a keyword on its line, as one number.
    double argument(std::string_view content, size_t after, const std::string& name) const {
        std::string text(content);
        text.replace(0, after, after, ' ');
        const auto words = words_of(text);
        if (words.size() != 1)
            fail(static_cast<int>(after) + 1,
                 fmt::format("found {} values after {}; expected 1", words.size(), name));
        return number(words[0]);
    }

    void keyword(std::string_view content, int column) {
        const size_t close = content.find(']');
        if (close == std::string_view::npos) fail(column, "found `[` without `]`; expected a keyword");
        const size_t begin = content.find('[');
        const std::string name = lower_case(content.substr(begin, close - begin + 1));
        const size_t after = close + 1;
        if (name == "[version]") {
            const double version = argument(content, after, name);
            if (version != 2.0 && version != 2.1)
                fail(column, fmt::format("found version {}; expected 2.0", version));
            version_2_ = true;
            return;
        }
        if (!version_2_)
            fail(column, fmt::format("found {} before any [Version]; expected [Version] 2.0 first", name));
        if (name == "[number of ports]") {
            const double ports = argument(content, after, name);
            if (ports != 1) fail(column, fmt::format("found {} ports; expected 1", ports));
            ports_known_ = true;
        } else if (name == "[number of frequencies]") {
            frequencies_ = argument(content, after, name);
        } else if (name == "[reference]") {
            std::string text(content);
            text.replace(0, after, after, ' ');
            awaits_reference_ = true;
            if (const auto words = words_of(text); !words.empty()) reference(words);
        } else if (name == "[network data]") {
            if (!ports_known_)
                fail(column, "found [Network Data] before [Number of Ports]; expected [Number of Ports] 1");
            in_data_ = true;
        } else if (name == "[end]") {
            ended_ = true;
        } else if (name == "[begin information]") {
            in_information_ = true;
        } else if (name != "[matrix format]" && name != "[two-port data order]" &&
                   name != "[two-port order]" && name != "[number of noise frequencies]") {
            fail(column,
                 fmt::format("found keyword {}; expected one of a one-port file of version 2.0", name));
        }
    }

    void reference(const std::vector<Word>& words) {
        if (words.size() != 1)
            fail(words[0].column, fmt::format("found {} reference resistances; expected 1", words.size()));
        reference_ohm_ = resistance(words[0]);
        awaits_reference_ = false;
    }

    void data(const std::vector<Word>& words) {
        if (!options_)
            fail(words[0].column,
                 "found data before an option line; expected `#` with the units, as in `# MHz S RI R 50`");
        if (version_2_ && !in_data_)
            fail(words[0].column,
                 fmt::format("found `{}`; expected [Network Data] before the data", words[0].text));
        if (words.size() != 3) {
            fail(words[0].column,
                 fmt::format("found {} values; expected 3: a frequency and one parameter of one port",
                             words.size()));
        }
        const double f = options_->unit_hz * number(words[0]);
        const std::complex<double> value = complex_of(number(words[1]), number(words[2]), words[1].column);
        if (f < 0) fail(words[0].column, fmt::format("found frequency {} Hz; expected 0 or more", f));
        rows_.add(point(f, value, words[1].column), line_, words[0].column);
    }

    std::complex<double> complex_of(double a, double b, int column) const {
        const double angle = b * std::numbers::pi / 180;
        switch (options_->format) {
            case Format::real_imaginary:
                return {a, b};
            case Format::decibel_angle:
                return std::polar(std::pow(10.0, a / 20), angle);
            case Format::magnitude_angle:
                break;
        }
        if (a < 0) fail(column, fmt::format("found magnitude {}; expected 0 or more", a));
        return std::polar(a, angle);
    }

    ImpedancePoint point(double f, std::complex<double> value, int column) const {
        const double r = reference_ohm_.value_or(options_->resistance_ohm);
        const double scale = version_2_ ? 1 : r;  // version 1 normalises Z and Y to R
        ImpedancePoint out{f, {}, true};
        switch (options_->parameter) {
            case Parameter::s:
                if (value == 1.0) fail(column, "found S = 1, an open circuit; expected a finite impedance");
                out.impedance_ohm = r * (1.0 + value) / (1.0 - value);
                out.passive = std::abs(value) <= 1;
                break;
            case Parameter::y:
                if (value == 0.0) fail(column, "found Y = 0, an open circuit; expected a finite impedance");
                out.impedance_ohm = scale / value;
                out.passive = value.real() >= 0;
                break;
            case Parameter::z:
                out.impedance_ohm = scale * value;
                out.passive = value.real() >= 0;
                break;
        }
        return out;
    }

    void finish(std::vector<Warning>& warnings) {
        line_ = std::max(1, std::min(line_, static_cast<int>(lines_.size())));
        if (in_information_) fail(1, "found no [End Information]; expected it after [Begin Information]");
        if (rows_.rows() == 0) fail(1, "found no data; expected a frequency and one parameter a line");
        if (version_2_ && !frequencies_)
            fail(1, "found no [Number of Frequencies]; expected it before the data");
        if (frequencies_ && *frequencies_ != static_cast<double>(rows_.rows())) {
            fail(1, fmt::format("found {} points; expected {}, as [Number of Frequencies] says", rows_.rows(),
                                *frequencies_));
        }
        if (version_2_ && !ended_)
            warnings.push_back({"curve",
                                "the file has no [End] after its data; there are as many points as [Number "
                                "of Frequencies] says"});
    }

    const std::string& file_;
    std::vector<std::string_view> lines_;
    int line_ = 0;
    std::optional<Options> options_;
    bool version_2_ = false;
    bool ports_known_ = false;
    bool in_data_ = false;
    bool in_information_ = false;
    bool awaits_reference_ = false;
    bool ended_ = false;
    std::optional<double> frequencies_;
    std::optional<double> reference_ohm_;
    ImpedanceRows rows_;
};

}  // namespace

std::vector<ImpedancePoint> parse_touchstone(const std::string& text, const std::string& file,
                                             std::vector<Warning>* warnings) {
    refuse_utf16(text, file);
    std::vector<Warning> unheard;
    return TouchstoneReader(text, file).read(warnings ? *warnings : unheard);
}

}  // namespace ringquell::internal
