// Many cases, or variants of one, each checked by itself.
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/check.h"

namespace ringquell {

/// A case file with settings (read_case.h).
struct CaseVariant {
    std::string file;
    std::vector<std::string> settings;
    bool operator==(const CaseVariant&) const = default;
};

/// What a table tells of one; its `document` holds more.
struct CheckedCase {
    CaseVariant variant;
    /// Empty: it could not be judged, and `error` says why, in the words in which a check of it alone would.
    std::optional<Verdict> verdict;
    std::string error;
    bool wrong_input = false;  // of these: the input is wrong; else the numbers could not be trusted
    std::string title;
    int positions = 0;
    std::optional<FoundMode> worst;  // the mode in question (check.h); `point` is no index here
    std::string worst_point;
    double target = 0;  // the damping ratio asked of it; 0: none
    struct Resistor {
        std::optional<double> minimum_ohm, preferred_ohm;
        double fitted_ohm = 0;
    };
    std::map<Edge, Resistor> resistors;  // of the edges that were sized
    bool passes_in_passing = true;
    std::string document;
    std::vector<std::string> files_read;
};

/// Reads and checks each on as many threads as `threads` says; in the order of `variants`, and the same for
/// any number of threads. One that is broken stops none of the others. `document`, where it is given, is
/// called on these threads, at once for different cases, and its text kept.
std::vector<CheckedCase> check_many(
    const std::vector<CaseVariant>& variants, const CheckOptions& options, int threads,
    const std::function<std::string(const CaseVariant&, const CheckResult&)>& document = {});

}  // namespace ringquell
