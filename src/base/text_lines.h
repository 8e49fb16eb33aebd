// Lines and words of a text with their places, for the readers of tabular files.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "ringquell/error.h"

namespace ringquell::internal {

struct Word {
    std::string_view text;
    int column = 0;  // from 1
};

/// The lines of a text one by one, ended by LF, CR LF or CR; without a byte order mark.
class LineCutter {
  public:
    explicit LineCutter(std::string_view text);
    /// False at the end of the text.
    bool next(std::string_view& line);
    int number() const { return number_; }  // of the last line, from 1

  private:
    std::string_view text_;
    std::size_t feed_ = 0;  // of the next LF in text_
    int number_ = 0;
};

/// All of them.
std::vector<std::string_view> lines_of(std::string_view text);

/// The words of a line, parted by blanks and tabs.
std::vector<Word> words_of(std::string_view line);

/// The fields between separators, blanks around them (and one pair of double quotes) taken off.
std::vector<Word> fields_of(std::string_view line, char separator);
/// The same into a list that is used again and again.
void fields_of(std::string_view line, char separator, std::vector<Word>& fields);

/// Throws InputError for a text in UTF-16, as spreadsheets save it: by its byte order mark, or by the zero
/// bytes between the first letters.
void refuse_utf16(std::string_view text, const std::string& file);

/// Without such characters at its ends.
std::string_view trimmed(std::string_view text, std::string_view characters = " \t");

std::string lower_case(std::string_view text);

/// A finite decimal number that takes up the whole word; a leading + is allowed.
std::optional<double> number_of(std::string_view word);

/// What is wrong with a word that is no number; a decimal comma is named.
std::string no_number(std::string_view word);

}  // namespace ringquell::internal
