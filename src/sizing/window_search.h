// One parameter at one point: where its windows begin and end.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/acceptable.h"

namespace ringquell::internal {

/// Judges one value at one point: every mode that counts, at that value. Where it throws NumericalError the
/// value counts as not acceptable, and the answer as not complete.
using ModesAt = std::function<std::vector<Mode>(double value)>;

/// What rounding can do to the damping of modes, met so far at a parameter's values; kept from point to
/// point, so that well-conditioned networks are spared the work of knowing it.
struct Roughness {
    bool known = false;
    double largest = 0;
};

/// The values of one parameter in [low, high] at which the differential modes of one point meet the
/// requirement. With `candidates` (all values at which any bound can lie) the answer is complete; without,
/// the range is sampled adaptively by `slope`, the derivative of the damping margin.
struct Search {
    double low = 0, high = 0;
    const Requirement* require = nullptr;
    bool common_too = false;  // judge the common modes as well
    ModesAt modes_at;
    std::optional<std::vector<double>> candidates;
    bool kinds_move = false;  // a mode's kind may change between candidates, as in an uneven layout
    /// dζ/dvalue; for the adaptive search.
    std::function<double(double value, const Mode& mode)> damping_slope;
    /// Uncertainty of a mode's damping ratio (modes/examine.h). Where it is given, a value whose margin
    /// is within it is evidence of nothing: no bound is drawn there, and growth within it is none.
    std::function<double(double value, const Mode& mode)> uncertainty;
    Roughness* roughness = nullptr;
    std::string point;
};
struct Searched {
    std::vector<Window> windows;
    /// All ends lie at candidates, or where nothing between them could move one; false: sampled.
    bool complete = false;
    std::string why_not_complete;  // empty where complete, or where there were no candidates
};
Searched search_windows(const Search& search, int& evaluations);

/// Leaves of the windows so far what one more point allows. What an earlier point has excluded stays
/// excluded, so only the rest is searched; windows narrower than `least_width` go. Where an end was not found
/// for certain the answer is not complete.
void narrow(Acceptable& answer, Search search, double least_width);

/// dζ/dvalue by a difference, of the mode nearest to it at value + step.
double slope_by_difference(const ModesAt& modes_at, double value, const Mode& mode, double step);

}  // namespace ringquell::internal
