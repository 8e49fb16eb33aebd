// Parts of the text and the JSON that several reports share.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "base/lists.h"
#include "case/enum_names.h"
#include "ringquell/check.h"
#include "ringquell/element_kind.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

/// "1 position", "4 positions".
inline std::string counted(std::int64_t n, const char* what) {
    return std::to_string(n) + ' ' + what + (n == 1 ? "" : "s");
}

/// "PASS", "FAIL", "UNDECIDED".
const char* verdict_word(Verdict verdict);

/// The dimension of an element's value as its key gives it.
Dimension dimension_of(ElementKind kind);

/// Four digits.
std::string frequency(double hz);

/// Three digits; what rounding leaves of zero is zero.
std::string damping(double ratio);
/// The fitted gate resistor, or from least to greatest over the positions.
std::string fitted(const EdgeSizing& sizing, int digits);

/// `caution` in full, as HTML.
extern const char* const cautions_of_page;

/// The parts of a verdict in words. Each "line" ends in a newline.
std::string requirement_line(const Requirement& require);
/// "turn_off current 11" with its edge, voltage, current and what the complementary device does.
std::string place(const OperatingPoint& point);
/// Is a mode fed by gain, or does a loop ring?
std::string cause_of(const FoundMode& mode);
std::string growing_line(const CheckResult& result);
/// "gate_path.bead 50 ohm beside 80 nH, gate_path.resistor.turn_on 4.7 ohm (now 3.3 ohm)"
std::string changes_words(const std::vector<CureChange>& changes);
std::string advice_line(const CheckResult& result);
/// "10.6675 to 47 ohm (below: damping at ...; above: the range searched)"
std::string bounded(const Window& window);
/// Is the fitted value inside a window?
bool fitted_passes(const EdgeSizing& sizing);
/// Does what is judged in passing on this edge stay within its limit?
bool passage_passes(const CheckResult& result, Edge edge);
/// What the fitted resistor of an edge is worth: "acceptable", ...
const char* fitted_word(const CheckResult& result, Edge edge, const EdgeSizing& sizing);

/// How many values the verdict rests on that are assumed, and which matters most; empty where none is.
std::string assumed_line(const CheckResult& result);
/// A line for each ring of the case's `measured` with the nearest mode of its point; empty without any.
std::string measured_lines(const CheckResult& result);
/// "87 MHz, damping ratio 0.046, falls to 1/e in 40 ns (3.5 cycles)": as it rings, not its natural frequency.
std::string ringing(const Mode& mode);

/// By how much the gain may rise, and what grows then; empty where it was not asked.
std::string gain_margin_line(const CheckResult& result);

/// "falls to 1/e in 40 ns (3.5 cycles)", "doubles in 10 ns (1.4 cycles)".
std::string pace(const Mode& mode);
/// The stages judged in passing that would grow if held, and what their passage is worth; empty without such
/// stages.
std::string passing_lines(const CheckResult& result);
/// One passage with its growth, what is allowed, and whether it passes.
std::string passage_line(const Passage& passage);
/// How much a whole edge grows and what a measurement would show; empty where nothing grows.
std::string edge_lines(const CheckResult& result);

}  // namespace ringquell::internal
