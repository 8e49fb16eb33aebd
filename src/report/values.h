// Results as JSON values. A verb prints the whole of one; the page holds several in one text.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/bead_fit.h"
#include "ringquell/calibrate.h"
#include "ringquell/check.h"
#include "ringquell/choose.h"
#include "ringquell/compare.h"
#include "ringquell/explain.h"
#include "ringquell/network_echo.h"
#include "ringquell/spread.h"
#include "ringquell/vary.h"

namespace ringquell::internal {

/// Keys stay in the order in which they are written.
using Json = nlohmann::ordered_json;

/// As a file holds it, a member a line.
std::string printed(const Json& value);

/// Null where there is none.
template <class T>
Json or_null(const std::optional<T>& value) {
    return value ? Json(*value) : Json();
}

/// `decay_s`, `doubling_s`, `cycles_to_a_tenth`; null where there is none.
void add_pace(Json& out, const Mode& mode);
/// All that is told of a mode.
Json mode_value(const Mode& mode);
/// `measured` of a check.
Json measured_value(const CheckResult& result);
/// `stages`, `passages` and `edge_growth` of a check.
Json stages_value(const CheckResult& result);
Json passages_value(const std::vector<Passage>& passages);
Json edge_growth_value(const CheckResult& result);
/// How many values are assumed, and each with what it changes, the greatest first.
Json assumed_value(const CheckResult& result);
Json network_value(const NetworkEcho& echo);
Json sections_value(const Bead& bead);

/// What a cure changes, key by key.
Json changes_value(const std::vector<CureChange>& changes);

/// All of what a verb says.
Json check_value(const CheckResult& result, const NetworkEcho* echo = nullptr);
Json size_value(const CheckResult& result);
Json vary_value(const Varied& varied);
Json budget_value(const std::vector<Varied>& budget);
Json explain_value(const Explanation& explanation);
Json choose_value(const Choice& choice);
Json compare_value(const Comparison& comparison);
/// `written`: the file of the calibrated case; empty: none.
Json calibrate_value(const Calibration& calibration, const std::string& written);
/// A mode beside a measured ring.
Json beside_value(const ModeBesideRing& mode);
Json spread_value(const SpreadResult& result, const std::vector<ResistanceForShare>& resistances = {},
                  const std::optional<Corners>& corners = {}, const std::string& worst_file = "");

}  // namespace ringquell::internal
