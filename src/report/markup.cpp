#include "report/markup.h"

#include <string_view>

namespace ringquell::internal {

namespace {

std::string replaced(const std::string& text, char what, const std::string& by) {
    std::string out;
    for (const char c : text) out += c == what ? by : std::string(1, c);
    return out;
}

}  // namespace

std::string escaped(const std::string& text) {
    std::string out;
    for (const char c : text) switch (c) {
            case '&':
                out += "&amp;";
                break;
            case '<':
                out += "&lt;";
                break;
            case '>':
                out += "&gt;";
                break;
            case '"':
                out += "&quot;";
                break;
            case '\'':
                out += "&#39;";
                break;
            default:
                out += c;
        }
    return out;
}

std::string plain_markdown(const std::string& text) {
    std::string out;
    for (const char c : text) {
        if (c == '\n') {
            out += ' ';
            continue;
        }
        if (std::string_view("\\`*_{}[]<>#|~").find(c) != std::string_view::npos) out += '\\';
        out += c;
    }
    return out;
}

std::string xml_attribute(const std::string& text) {
    std::string kept;
    for (const char c : text)
        kept += static_cast<unsigned char>(c) < 0x20 && c != '\t' && c != '\n' ? '?' : c;
    return replaced(escaped(kept), '\n', "&#10;");
}

}  // namespace ringquell::internal
