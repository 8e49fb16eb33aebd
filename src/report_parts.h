// Parts of the text and the JSON that several reports share.
#pragma once

#include <cstdint>
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "ringquell/check.h"

namespace ringquell {

/// For sentences.
inline const char* edge_word(Edge edge) {
    return edge == Edge::turn_on ? "turn-on" : "turn-off";
}

/// "1 position", "4 positions".
inline std::string counted(std::int64_t n, const char* what) {
    return std::to_string(n) + ' ' + what + (n == 1 ? "" : "s");
}

/// Three digits; what rounding leaves of zero is zero.
std::string damping(double ratio);
/// The fitted gate resistor, or from least to greatest over the positions.
std::string fitted(const EdgeSizing& sizing, int digits);

/// The parts of a verdict in words. Each "line" ends in a newline.
std::string requirement_line(const Requirement& require);
/// "turn_off current 11" with its edge, voltage, current and what the complementary device does.
std::string place(const OperatingPoint& point);
/// Is a mode fed by gain, or does a loop ring?
std::string cause_of(const FoundMode& mode);
std::string growing_line(const CheckResult& result);
std::string advice_line(const CheckResult& result);
/// "10.6675 to 47 ohm (below: damping at ...; above: the range searched)"
std::string bounded(const Window& window);
/// Is the fitted value inside a window?
bool fitted_passes(const EdgeSizing& sizing);

/// The stages in which a mode grows, and by what factor in one passage; empty where nothing grows.
std::string growth_lines(const PassingGrowths& growths);
/// {"stages": [...], "notes": [...]}.
nlohmann::ordered_json growth_json(const PassingGrowths& growths);

}  // namespace ringquell
