// Text inside HTML, SVG, XML and Markdown.
#pragma once

#include <string>

namespace ringquell::internal {

/// `&`, `<`, `>` and both quotes as entities.
std::string escaped(const std::string& text);
/// The same for an attribute: line ends as entities, and `?` for what XML 1.0 has no way to write.
std::string xml_attribute(const std::string& text);
/// On one line, with a backslash before what Markdown would take for its own.
std::string plain_markdown(const std::string& text);

}  // namespace ringquell::internal
