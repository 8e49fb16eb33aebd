// All of a review on one page: a self-contained HTML file with plots, which also holds the case and its
// numbers.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/calibrate.h"
#include "ringquell/check.h"
#include "ringquell/choose.h"
#include "ringquell/compare.h"

namespace ringquell {

struct PageOptions {
    CheckOptions check;
    std::vector<BeadCandidate> beads;  // to compare, beside none and the fitted one
    double switching_frequency_hz = 20e3;
    /// The layout budget and each element's passing value. Absent: where they take seconds, that is for alike
    /// positions and for few uneven ones.
    std::optional<bool> budget;
    std::int64_t samples = 2000;  // of the case's tolerances, where it has any; 0: no spread
    std::uint64_t seed = 1;
    int threads = 1;
    std::string made;  // date and time as the page shows it
};

struct Page {
    CheckResult result;
    std::string html;  // UTF-8; asks for nothing from anywhere
};

/// Judges the case and writes its page. Throws as check() does.
Page make_page(const Case& input, const PageOptions& options = {});

/// The same for two cases side by side: what differs, which input did it, and the damping of both along their
/// paths. `compared` is what compare(a, b) has found.
std::string make_compare_page(const Case& a, const Case& b, const Comparison& compared,
                              const std::string& made);

/// What records say of the case and what they settle: the records with their fits, the modes beside the measured rings,
/// and what is known before and after. `calibration` is what calibrate(input, …) has found.
std::string make_calibrate_page(const Case& input, const Calibration& calibration, const std::string& made);

/// What a page says of the case it was made from.
struct PageRecord {
    std::string version, made, file, title, verdict;
    std::string hash;       // of the case's text
    std::string case_text;  // as write_case() writes it
};

/// From the HTML of a page. Throws InputError at `file` for what is no page of this command.
PageRecord read_page(const std::string& html, const std::string& file);

/// What differs between the page's case and this one: numbers by key, then other lines of write_case(), those
/// that were with "-", those that are with "+". Empty where nothing has changed.
std::vector<std::string> changed_since(const PageRecord& record, const Case& now);

/// FNV-1a, 64 bits, in hexadecimal (draft-eastlake-fnv): it shows that a text has changed. It is no
/// signature.
std::string text_hash(const std::string& text);

}  // namespace ringquell
