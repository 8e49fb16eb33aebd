// Inductances from shapes: closed forms with their sources and their ranges of validity. Lengths in m,
// results in H. µ0 = 4π·1e-7 H/m throughout. All are partial inductances except over_plane and
// parallel_plates, whose current returns in the plane or the other plate.
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "ringquell/error.h"

namespace ringquell {

/// One straight round wire, or `count` alike side by side in one plane, `spacing` between neighbouring axes.
struct RoundWire {
    double length_m = 0;
    double diameter_m = 0;
    int count = 1;
    double spacing_m = 0;  // needed from two wires on; at least the diameter
};

/// A straight bar of rectangular section, return far away.
struct FlatBar {
    double length_m = 0;
    double width_m = 0;
    double thickness_m = 0;
};

/// A strip of width × thickness, its lower face `height` above a wide conducting plane that carries the
/// return.
struct OverPlane {
    double length_m = 0;
    double width_m = 0;
    double height_m = 0;
    double thickness_m = 0;  // 0: infinitely thin
};

/// Two wide plates face to face, the current going in one and returning in the other.
struct ParallelPlates {
    double length_m = 0;
    double width_m = 0;
    double gap_m = 0;
};

/// A plated hole down to a ground plane, or `count` alike far enough apart not to couple.
struct Via {
    double height_m = 0;
    double diameter_m = 0;
    int count = 1;
};

using Shape = std::variant<RoundWire, FlatBar, OverPlane, ParallelPlates, Via>;

struct Inductance {
    double inductance_h = 0;
    std::string formula;                // the equation, in letters
    std::string source;                 // author, journal, year
    std::string validity;               // where it holds, and what it assumes
    std::vector<std::string> warnings;  // outside that range
};

/// The inductance of a shape. Dimensions must be finite and positive (thickness of OverPlane may be 0) and
/// counts at least 1: InputError, whose key is the dimension, otherwise.
///
/// RoundWire: L = µ0/2π·[l·ln((l + s)/r) − s + r + l/4], s = √(l² + r²);
///   Rosa, Bull. NBS 4 (1908) 301: current uniform over the section. Several: the currents that one common
///   voltage drives, L = 1/(1ᵀ·M⁻¹·1), M holding the above on its diagonal and `parallel_filaments_h`
///   elsewhere.
/// FlatBar: L = µ0/2π·l·[ln(2l/(w + t)) + 1/2 + 0.2235·(w + t)/l]; Rosa/Grover.
/// OverPlane: L = Z0/c·l, Z0 = η0/2π·ln(f(u)/u + √(1 + 4/u²)), f(u) = 6 + (2π − 6)·exp(−(30.666/u)^0.7528),
///   u = w/h + (t/πh)·ln(1 + 4e·h/(t·coth²√(6.517·w/h)));
///   Hammerstad & Jensen, MTT-S 1980 p. 407, no dielectric.
/// ParallelPlates: L = µ0·gap/w·l.
/// Via: L = µ0/2π·[h·ln((h + s)/r) + 1.5·(r − s)]/count, s = √(h² + r²); Goldfarb & Pucel, MGWL 1(6) 1991.
Inductance inductance_of(const Shape& shape);

/// Two parallel filaments of equal length side by side, M = µ0/2π·[l·ln((l + s)/d) − s + d], s = √(l² + d²);
/// Rosa, Bull. NBS 4 (1908) 301.
double parallel_filaments_h(double length_m, double distance_m);

/// The bar with uniform current, exactly: the mean of `parallel_filaments_h` over all pairs of filaments of
/// the section (what Hoer & Love, JRNBS 69C (1965) 127, give in closed form), by quadrature to 1e-9 relative.
double exact_flat_bar_h(const FlatBar& bar);

/// The shapes' names as the case file writes them.
const std::vector<std::string>& shape_names();
/// The dimensions of one shape, those it cannot do without first; empty for an unknown name.
std::vector<std::string> dimension_names(std::string_view shape);

/// A shape from its name and its dimensions in m (`count`: a whole number). InputError at `place` for an
/// unknown shape (key: its name), for a dimension unknown or missing, not finite, not positive, or not whole
/// (key: shape.dimension).
Shape shape_from(const std::string& name, const std::map<std::string, double>& dimensions_m,
                 const Place& place = {});

}  // namespace ringquell
