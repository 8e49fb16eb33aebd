// Files of columns (CSV) as lines and fields, for the readers of curves and of impedances.
#pragma once

#include <string_view>
#include <vector>

#include "base/text_lines.h"

namespace ringquell::internal {

/// A line cut into its fields; views into the text.
struct FieldLine {
    int line = 0;  // from 1
    std::string_view text;
    std::vector<Word> fields;
};

struct ColumnText {
    char separator = ',';
    FieldLine header;  // its line is 0 where the text has none
    std::vector<FieldLine> rows;
};

/// What of a line is no comment (#); empty where that is blanks and quotes alone.
std::string_view content_of(std::string_view line);

/// The first of `separators` that a header has, else a comma.
char separator_of(std::string_view header, std::string_view separators);

/// The first line that holds more than blanks, quotes and a comment (#) is the header, every further such
/// line a row. The first of `separators` that the header has parts the fields of all, else a comma.
ColumnText columns_of(std::string_view text, std::string_view separators);

}  // namespace ringquell::internal
