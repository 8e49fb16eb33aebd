// Which values of the gate resistor are acceptable: windows, what bounds them, and the value to fit.
#pragma once

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

/// The gate resistances in [0, limit] for which the differential modes meet their damping, and none grows, at
/// every judged point of the edge. Alike positions: complete; uneven ones as far as `effort` goes; where a
/// bead saturates each value is judged with the bias that it makes, by sampling. `solver` is of the same
/// case. Numbers that fail on the way make the answer incomplete, never an exception.
Acceptable acceptable_gate_resistance(ModeSolver& solver, const std::vector<OperatingPoint>& points,
                                      Edge edge, Effort effort = Effort::quick);

/// Fits this value at every position: to the gate resistor that acceptable_gate_resistance seeks for the
/// edge.
void fit_gate_resistor(Case& input, Edge edge, double ohm);

}  // namespace ringquell
