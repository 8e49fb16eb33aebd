// What the parts of a fit of a record hand each other.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "bench/ring_fit_search.h"
#include "ringquell/ring_fit.h"

namespace ringquell::internal {

/// The samples of a window, at even steps.
struct Window {
    double from_s = 0, step_s = 0;
    Eigen::VectorXd value;
    std::vector<std::string> remarks;  // on the times

    double time_s(Eigen::Index sample) const {
        const double t = from_s + static_cast<double>(sample) * step_s;
        return t < 1e-6 * step_s && t > -1e-6 * step_s ? 0 : t;  // rounding of zero
    }
};

/// When the record moves most from one sample to the next.
double largest_step_s(const Window& window);

/// When a ring begins within the window, at which what is before it is none of that ring; empty where none does.
std::optional<double> edge_within(const Window& window, int most_rings);

/// A term of a fit as a ring, amplitude and phase at the fit's first sample.
FittedRing ring_of(const JointFit& fit, size_t term, double step_s);

/// Rings of a fit, strongest first: those of its terms that swing at least once within the samples.
std::vector<size_t> rings_of(const JointFit& fit);

/// The strongest ring from later starts, and where it stands still.
void add_starts(const Window& window, const JointFit& fit, size_t strongest, RingFit& out);

/// What a reader must know of the numbers.
void add_remarks(const Window& window, const FoundTerms& found, RingFit& out);

}  // namespace ringquell::internal
