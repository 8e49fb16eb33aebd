#include "base/columns.h"

namespace ringquell::internal {

ColumnText columns_of(std::string_view text, std::string_view separators) {
    ColumnText out;
    int line = 0;
    for (const std::string_view whole : lines_of(text)) {
        ++line;
        const std::string_view content = whole.substr(0, whole.find('#'));
        if (content.find_first_not_of(" \t\v\f\"") == std::string_view::npos) continue;
        const bool is_header = out.header.line == 0;
        if (is_header)
            for (const char c : separators)
                if (content.find(c) != std::string_view::npos) {
                    out.separator = c;
                    break;
                }
        FieldLine cut{line, content, fields_of(content, out.separator)};
        if (is_header)
            out.header = std::move(cut);
        else
            out.rows.push_back(std::move(cut));
    }
    return out;
}

}  // namespace ringquell::internal
