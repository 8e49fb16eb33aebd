// Which values of the gate resistor are acceptable: windows, what bounds them, and the value to fit.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/modes.h"

namespace ringquell {

/// What happens at the end of a window: a mode meets its damping, enters or leaves the band, begins to grow,
/// changes its kind, or the search ends there.
enum class Bound { damping, band, growth, share, limit };
const char* bound_name(Bound bound);

struct Window {
    double low = 0, high = 0;
    Bound low_bound = Bound::limit, high_bound = Bound::limit;
    std::string low_point, high_point;  // the operating points that bound it
};

struct Acceptable {
    std::string key;  // what was varied: "gate_path.resistor", or "gate_path.diode.resistor"
    std::vector<Window> windows;
    /// Every bound of this model was found (not: the model holds everything a board has). False: sampled
    /// adaptively.
    bool complete = false;
    std::string why_not_complete;  // in words; empty where it is
    int evaluations = 0;
    /// Of an uneven layout: the order of the eigenvalue problems that find every bound (pair_pencil.h), at
    /// how many points they were solved, and the time it took; 0 where none was.
    int pencil_order = 0, pencil_points = 0;
    double pencil_s = 0;
};

/// How much may be spent on finding every bound of an uneven layout. Counted in multiplications, not in
/// seconds, so that the answer does not depend on the machine: about the cube of the order at every point.
enum class Effort {
    quick,     // some tenths of a second for an edge, else adaptive
    thorough,  // half a minute for an edge, else adaptive
    complete,  // whatever it costs
    adaptive,  // never
};

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
    std::function<double(double value, const Mode& mode)>
        damping_slope;  // dζ/dvalue; for the adaptive search
    /// Uncertainty of a mode's damping ratio (examine() in check.h). Where it is given, a value whose margin
    /// is within it is evidence of nothing: no bound is drawn there, and growth within it is none.
    std::function<double(double value, const Mode& mode)> uncertainty;
    Roughness* roughness = nullptr;
    std::string point;
};
class BoundaryCache;

struct Searched {
    std::vector<Window> windows;
    /// All ends lie at candidates, or where nothing between them could move one; false: sampled.
    bool complete = false;
    std::string why_not_complete;  // empty where complete, or where there were no candidates
};
Searched search_windows(const Search& search, int& evaluations);

/// The gate resistances in [0, limit] for which the differential modes meet their damping, and none grows, at
/// every judged point of the edge. Alike positions: complete; uneven ones as far as `effort` goes; where a
/// bead saturates each value is judged with the bias that it makes, by sampling. `solver` is of the same
/// case. Numbers that fail on the way make the answer incomplete, never an exception.
Acceptable acceptable_gate_resistance(ModeSolver& solver, const std::vector<OperatingPoint>& points,
                                      Edge edge, Effort effort = Effort::quick);

/// Every value >= 0 of network.elements[element] (its value taken as zero in the network) at which an
/// eigenvalue lies on the damping ray ζ, on the imaginary axis, at zero, or on a circle of one of the band's
/// edges: the real eigenvalues of small pencils (docs/model.md, "Gate resistance"). Elements of rank one;
/// values in the element's SI unit, those up to `limit`. `damping`: the target ζ.
/// `cache` keeps what is recorded for a structure from one call to the next.
std::vector<double> boundary_values(const Network& network, size_t element, double damping,
                                    const Requirement& require, double limit, BoundaryCache* cache = nullptr);

/// The smallest IEC 60063 E24 value with a margin of 30 % to both ends of a window and at least 1 ohm (the
/// limit asks for no margin).
std::optional<double> preferred_value(const std::vector<Window>& windows);
/// Has the value that margin to both ends of the window?
bool has_margin(const Window& window, double value);
/// The E24 value at or above x.
double e24_at_least(double x);

/// Fits this value at every position: to the gate resistor that acceptable_gate_resistance seeks for the
/// edge.
void fit_gate_resistor(Case& input, Edge edge, double ohm);

}  // namespace ringquell
