#include "base/columns.h"

namespace ringquell::internal {

std::string_view content_of(std::string_view line) {
    const std::string_view content = line.substr(0, line.find('#'));
    return content.find_first_not_of(" \t\v\f\"") == std::string_view::npos ? std::string_view{} : content;
}

char separator_of(std::string_view header, std::string_view separators) {
    for (const char c : separators)
        if (header.find(c) != std::string_view::npos) return c;
    return ',';
}

ColumnText columns_of(std::string_view text, std::string_view separators) {
    ColumnText out;
    int line = 0;
    for (const std::string_view whole : lines_of(text)) {
        ++line;
        const std::string_view content = content_of(whole);
        if (content.empty()) continue;
        const bool is_header = out.header.line == 0;
        if (is_header) out.separator = separator_of(content, separators);
        FieldLine cut{line, content, fields_of(content, out.separator)};
        if (is_header)
            out.header = std::move(cut);
        else
            out.rows.push_back(std::move(cut));
    }
    return out;
}

}  // namespace ringquell::internal
