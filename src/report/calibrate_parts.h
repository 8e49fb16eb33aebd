// What text and page say of a calibration. Lines end in a newline, those below a heading begin with two blanks.
#pragma once

#include <string>
#include <vector>

#include "ringquell/calibrate.h"

namespace ringquell::internal {

struct CalibratedVerdict {
    std::string word;  // "EXPLAINED"
    std::string what;  // "all records fit within the tolerances"
};
CalibratedVerdict calibrated_verdict(const Calibration& calibration);

/// What one record says, and what the case says of it: its name with where it was taken, then lines.
std::string calibrate_record(const CalibratedRecord& record);

/// A number moved alone, from or to.
std::string single_value_words(double value, const SingleChangeRow& row);
/// Which of the rows the records tell apart.
std::string single_verdict(const Calibration& calibration);

/// Those that are known better than before by enough to be told, the most first.
std::vector<const CalibratedUnknown*> narrowed_unknowns(const Calibration& calibration);
/// "6.2 nH ± 0.3 nH"
std::string unknown_words(const CalibratedUnknown& unknown, double value, double error);

/// Stands in place of all that follows the single changes where a record is not explained.
extern const char* const nothing_settled;
/// With their headings; empty without any.
std::string calibrate_combinations(const Calibration& calibration);
std::string calibrate_next(const Calibration& calibration);
/// Why the values are to be taken with care: beyond the tolerances, other answers, a fit that did not settle.
std::string calibrate_strain(const Calibration& calibration);

}  // namespace ringquell::internal
