// Files that the build puts into the command: src/page/assets/, and Chart.js as Debian has it.
#pragma once

#include <string_view>

namespace ringquell::internal {

extern const std::string_view page_style, page_script, page_plots, page_plane, page_charts, chart_library;

}  // namespace ringquell::internal
