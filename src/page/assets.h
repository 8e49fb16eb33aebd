// Files that the build puts into the command: src/page/assets/, and Chart.js as Debian has it.
#pragma once

#include <string_view>

namespace ringquell::internal {

extern const std::string_view page_style, chart_library;
/// In the order in which they may stand: each uses those before it.
extern const std::string_view script_basics, script_page, script_plots, script_map, script_plane,
    script_snubber, script_charts, script_compare, script_calibrate, script_paper;

}  // namespace ringquell::internal
