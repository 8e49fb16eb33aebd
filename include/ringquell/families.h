// Modes followed along the path, so that the same mode keeps its name.
//
// Two eigenvectors are compared by their energy coordinates u: √C·v of every capacitance and √L·i of every
// inductance (mutual terms left out), of unit length. Their overlap |u₁ᴴu₂| is 1 for the same shape. From one
// point to the next each mode goes to the one with the greatest overlap times closeness of the eigenvalue.
// Where a second one is nearly as good, the step is halved (between operating points: device values in
// between, the ends exact), up to ten times.
#pragma once

#include <complex>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/modes.h"
#include "ringquell/operating_path.h"

namespace ringquell {

/// One mode through all points. Only modes that oscillate in the band or grow somewhere have families.
struct Family {
    std::string name;  // "differential 1", "common 2": by the natural frequency where it is first seen
    ModeKind kind = ModeKind::differential;  // where it is first seen
    int multiplicity = 1;                    // there
    /// At each point or value, in their order, rad/s; empty where the family does not exist. Real where the
    /// pair has become two real eigenvalues: then the one that decays least.
    std::vector<std::optional<std::complex<double>>> eigenvalues;
};

enum class FamilyChange {
    becomes_real,         // the pair meets the real axis and splits into two real eigenvalues
    becomes_oscillating,  // two real eigenvalues meet and leave the axis as a pair
    merges,               // at the same time a second family, `other`, ends in it
    crosses,              // its ringing frequency and that of `other`, of the same kind, change places
    ends,                 // cannot be followed further
};
const char* family_change_name(FamilyChange change);

struct FamilyEvent {
    FamilyChange change = FamilyChange::ends;
    std::string family, other;
    size_t from = 0, to = 0;  // the points between which it happens
};

struct Families {
    std::vector<Family> families;  // differential ones first, then by name
    std::vector<FamilyEvent> events;
    int halvings = 0;          // of steps that were ambiguous
    bool unsure = false;       // a step remained ambiguous after all halvings
    std::string not_followed;  // why there are none: so many positions that not all modes are sought
};

/// Along the points of a case, from operating_path(). Points of one stage are neighbours; a stage joins the
/// earlier one that comes closest in voltage and current, so that names hold over both edges.
Families follow_path(const Case& input, const std::vector<OperatingPoint>& points);

/// The name of the family that this mode belongs to at this point (from 0); empty where it has none.
std::string family_of(const Families& families, size_t point, const Mode& mode);

}  // namespace ringquell
