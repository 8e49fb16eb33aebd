// Which one number of a case, moved alone, would explain the records.
#pragma once

#include <string>
#include <vector>

#include "bench/record_model.h"
#include "ringquell/calibration.h"

namespace ringquell::internal {

/// One number moved alone, everywhere or at one position.
struct MovedAlone {
    /// Its key, and those of others in the same string, whose current is the same: the same henries or ohms more in any
    /// of them do the same.
    std::vector<std::string> keys;
    bool everywhere = true;
    Dimension dimension = Dimension::number;
    bool curve = false;            // a bead's: `from` is 1
    double from = 0, to = 0;       // SI, of the first key
    double tolerances = 0;         // how far it moves, in tolerances (half widths)
    bool tolerance_given = false;  // by the case or the bench file; else a typical one
    /// What the records still miss: Σ residual², and 2·ln of how much less the modes are seen than others.
    double misfit = 0;
    double score = 0;                        // minus twice the logarithm of its odds (docs/bench.md)
    std::vector<Eigen::VectorXd> residuals;  // of each record
    std::vector<SeenMode> modes;  // that each ring is then taken for; one entry a record, empty of a port
};

struct SingleChange {
    MovedAlone best;
    std::vector<MovedAlone>
        others;  // the same number at other positions or everywhere, as far as not told apart
};

struct SingleChanges {
    double misfit_now = 0;  // with nothing moved
    std::vector<SingleChange> rows;
};

/// The numbers that may be the cause, a tolerance for each (uniform): what `unknown` says, then the typical ones, then
/// every other number of the network with 15 % (parts that are bought: 10 %; common practice, no source). Each
/// everywhere, and at each position alone where there are several.
std::vector<Tolerance> suspects(const Case& input, const std::vector<Tolerance>& unknown);

/// Best first, one row for the numbers of one string.
SingleChanges single_changes(const Case& input, const std::vector<Tolerance>& unknown,
                             const std::vector<RecordTarget>& records);

}  // namespace ringquell::internal
