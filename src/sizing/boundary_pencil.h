// Where an element's value lets an eigenvalue meet a bound.
#pragma once

#include <vector>

#include "ringquell/case.h"
#include "ringquell/network.h"
#include "sizing/boundary_cache.h"

namespace ringquell::internal {

/// Every value >= 0 of network.elements[element] (its value taken as zero in the network) at which an
/// eigenvalue lies on the damping ray ζ, on the imaginary axis, at zero, or on a circle of one of the band's
/// edges: the real eigenvalues of small pencils (docs/model.md, "Gate resistance"). Elements of rank one;
/// values in the element's SI unit, those up to `limit`. `damping`: the target ζ.
/// `cache` keeps what is recorded for a structure from one call to the next.
std::vector<double> boundary_values(const Network& network, size_t element, double damping,
                                    const Requirement& require, double limit, BoundaryCache* cache = nullptr);

}  // namespace ringquell::internal
