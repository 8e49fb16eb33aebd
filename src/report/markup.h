// Text inside HTML, SVG and XML.
#pragma once

#include <string>

namespace ringquell::internal {

/// `&`, `<`, `>` and both quotes as entities.
std::string escaped(const std::string& text);

}  // namespace ringquell::internal
