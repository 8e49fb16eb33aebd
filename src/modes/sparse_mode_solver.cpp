#include "modes/sparse_mode_solver.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "modes/common_share.h"
#include "modes/gain_feed.h"
#include "network/reducer.h"
#include "numerics/argument_path.h"
#include "numerics/cluster.h"
#include "numerics/rounding.h"
#include "numerics/shift_invert.h"

namespace ringquell::internal {

bool Sector::contains(std::complex<double> lambda) const {
    const double size = std::abs(lambda);
    return size > low && size < high && -lambda.real() < damping * size;
}

namespace {

/// Eigenvalues asked of one shift at most: more cost more in all than another shift.
constexpr int per_shift = 24;

double angle_of(const Sector& sector) {
    return std::numbers::pi - std::acos(std::clamp(sector.damping, -1.0, 1.0));
}

int weight(std::complex<double> lambda) {
    return lambda.imag() > 0 ? 2 : 1;
}

}  // namespace

struct SparseModeSolver::State {
    explicit State(int n) : positions(n) {}

    const int positions;
    const Network* network = nullptr;
    Eigen::SparseMatrix<double> e, a;  // natural units
    std::unique_ptr<PencilLu> lu;
    std::unique_ptr<ArgumentPath> path;

    KnownZeros zeros;               // natural units, as are all λ here; in step with `found`
    std::vector<SparseMode> found;  // rad/s
    std::vector<char> in_a_sector;  // was counted in a sector asked for
    struct Shift {
        std::complex<double> at;
        double reach;  // to the farthest eigenvalue it gave
    };
    std::vector<Shift> shifts;

    void set(const Network& other) {
        network = &other;
        e = other.e() * natural;
        a = other.a();
        if (!lu || !lu->set(e, a)) lu = std::make_unique<PencilLu>(e, a);
        path = std::make_unique<ArgumentPath>(*lu, zeros);
        zeros.upper.clear();
        found.clear();
        in_a_sector.clear();
        shifts.clear();
    }

    SparseMode described(const RitzPair& pair, bool refined) const {
        std::complex<double> lambda = pair.lambda;
        if (lambda.imag() < 0) lambda = std::conj(lambda);
        if (lambda.imag() <= single_real_pair * std::abs(lambda)) lambda.imag(0);
        return {lambda * natural, common_share(*network, pair.x, positions),
                gain_parts(*network, lambda * natural, pair.x).feed, refined};
    }

    /// Shares and gain parts of modes whose eigenvalues are equal: no choice of their vectors moves them.
    void split_by_kind(const std::vector<SparseMode*>& equal) {
        const auto count = static_cast<int>(equal.size());
        const SplitModes split = split_by_share(
            *network, cluster_space(*lu, e, equal.front()->eigenvalue / natural, count), positions);
        for (size_t k = 0; k < equal.size(); ++k) {
            equal[k]->common_share = split.share[k];
            equal[k]->gain_feed =
                gain_parts(*network, equal[k]->eigenvalue, split.x.col(static_cast<Eigen::Index>(k))).feed;
        }
    }
    void split_equal(std::vector<SparseMode>& modes) {
        std::vector<char> done(modes.size(), 0);
        for (size_t i = 0; i < modes.size(); ++i) {
            if (done[i]) continue;
            std::vector<SparseMode*> equal;
            for (size_t k = i; k < modes.size(); ++k)
                if (!done[k] && std::abs(modes[k].eigenvalue - modes[i].eigenvalue) <=
                                    equal_eigenvalues * std::abs(modes[i].eigenvalue)) {
                    equal.push_back(&modes[k]);
                    done[k] = 1;
                }
            if (equal.size() > 1) split_by_kind(equal);
        }
    }

    /// As many as there are at λ: of more vectors than that, some leave it.
    std::vector<SparseMode> refined_at(std::complex<double> lambda) {
        std::vector<SparseMode> out;
        for (int count = 2;; count *= 2) {
            const int asked = std::min(count, lu->size());
            std::vector<SparseMode> some;
            for (const RitzPair& pair : refine_cluster(*lu, e, a, lambda, asked))
                if (pair.lambda.imag() >=
                    -single_real_pair * std::abs(pair.lambda))  // else a neighbour's conjugate
                    some.push_back(described(pair, true));
            const auto distance = [&](const SparseMode& m) {
                return std::abs(m.eigenvalue - lambda * natural);
            };
            const std::complex<double> at =
                std::min_element(some.begin(), some.end(), [&](const SparseMode& x, const SparseMode& y) {
                    return distance(x) < distance(y);
                })->eigenvalue;
            out.clear();
            for (const SparseMode& m : some)
                if (std::abs(m.eigenvalue - at) <= equal_eigenvalues * std::abs(at)) out.push_back(m);
            if (static_cast<int>(out.size()) < asked || asked == lu->size()) break;
        }
        split_equal(out);
        return out;
    }

    void add(const SparseMode& mode) {
        found.push_back(mode);
        in_a_sector.push_back(0);
        zeros.upper.push_back(mode.eigenvalue / natural);
    }

    void remove(size_t i) {
        const auto at = static_cast<long>(i);
        found.erase(found.begin() + at);
        in_a_sector.erase(in_a_sector.begin() + at);
        zeros.upper.erase(zeros.upper.begin() + at);
    }

    /// Looks for eigenvalues next to λ; true where new ones came to light.
    bool search(std::complex<double> lambda, int wanted) {
        bool news = false;
        double reach = 0;
        for (const RitzPair& pair : shift_invert(*lu, e, lambda, std::min(wanted, per_shift))) {
            reach = std::max(reach, std::abs(pair.lambda - lambda));
            const bool known =
                std::any_of(zeros.upper.begin(), zeros.upper.end(), [&](std::complex<double> mu) {
                    return std::abs(mu - pair.lambda) <= one_eigenvalue * std::abs(mu);
                });
            if (known || !(std::abs(pair.lambda) > 0)) continue;
            add(described(pair, false));
            news = true;
        }
        shifts.push_back({lambda, reach});
        return news;
    }

    /// The same where a path has become slow, but not twice at one place.
    bool explain(std::complex<double> lambda) {
        for (const Shift& s : shifts)
            if (std::abs(lambda - s.at) < 0.5 * s.reach) return false;
        constexpr int some = 8;
        return search(lambda, some);
    }

    /// What lies in `outer` but not in `inner`, both of the same radii.
    struct Cell {
        Sector outer, inner;
        bool contains(std::complex<double> lambda) const {
            return outer.contains(lambda) && !inner.contains(lambda);
        }
    };

    int count_known(const Sector& sector) const {
        int count = 0;
        for (const auto& mu : zeros.upper)
            if (sector.contains(mu * natural)) count += weight(mu);
        return count;
    }

    int whole_number(double x, const char* where) const {
        const double nearest = std::round(x);
        if (std::abs(x - nearest) > 0.01)
            throw NumericalError(fmt::format(
                "the argument count {} gave {:.3f}, not a whole number: rounding spoils the determinant",
                where, x));
        return static_cast<int>(nearest);
    }

    /// Eigenvalues in the sector that are not known (negative: known ones that are none).
    int missing(const Sector& sector) {
        const double low = std::log(sector.low / natural), high = std::log(sector.high / natural),
                     angle = angle_of(sector);
        if (angle <= 0) return 0;
        constexpr double on_arcs = 0.5, on_rays = 0.5;  // to start with
        const PathPiece inner{false, 0, std::exp(low), 0, 0, angle, on_arcs},
            outer{false, 0, std::exp(high), 0, angle, 0, on_arcs};
        const PathPiece ray{true, 0, 1, angle, low, high, on_rays};
        // Upper half of the boundary, clockwise, from the real axis to the real axis; the lower half is its
        // mirror image.
        const double change = path->change({inner, ray, outer},
                                           [this](std::complex<double> lambda) { return explain(lambda); });
        return whole_number(-change / std::numbers::pi, "round a sector");
    }

    /// How often a known eigenvalue really occurs; replaces it by as many refined ones.
    void settle(size_t i) {
        const std::complex<double> mu = zeros.upper[i];
        double radius = 1e-4 * std::abs(mu);
        for (size_t k = 0; k < zeros.upper.size(); ++k)
            if (k != i && zeros.upper[k] != mu)
                radius = std::min(radius, 0.25 * std::abs(zeros.upper[k] - mu));
        if (mu.imag() > 0) radius = std::min(radius, 0.5 * mu.imag());
        const auto copies = std::count(zeros.upper.begin(), zeros.upper.end(), mu);
        const PathPiece circle{false, mu, radius, 0, 0, 2 * std::numbers::pi, 0.8};
        const int more =
            whole_number(path->change({circle}, nullptr) / (2 * std::numbers::pi), "round one eigenvalue");
        const int count = static_cast<int>(copies) + more;
        if (more == 0) return;
        for (size_t k = zeros.upper.size(); k-- > 0;)
            if (zeros.upper[k] == mu) remove(k);
        if (count > 0)
            for (const RitzPair& pair : refine_cluster(*lu, e, a, mu, count)) add(described(pair, true));
    }

    int missing(const Cell& cell) { return missing(cell.outer) - missing(cell.inner); }

    void settle_all(const Cell& cell) {
        std::vector<std::complex<double>> inside;
        for (const auto& mu : zeros.upper)
            if (cell.contains(mu * natural) && std::find(inside.begin(), inside.end(), mu) == inside.end())
                inside.push_back(mu);
        for (const auto& mu : inside) {
            const auto it = std::find(zeros.upper.begin(), zeros.upper.end(), mu);
            if (it != zeros.upper.end()) settle(static_cast<size_t>(it - zeros.upper.begin()));
        }
    }

    /// Finds what is unknown in a cell, by smaller and smaller ones; `narrow` is the size at which only
    /// multiplicity is left.
    void resolve(const Cell& cell) {
        constexpr double wide = 0.4, narrow = 1e-4;  // of a cell's sides: ln of the ratio of radii, and rad
        constexpr int few = 4, beside = 3;
        int unknown = missing(cell);
        if (unknown == 0) return;
        const double height = std::log(cell.outer.high / cell.outer.low), from = angle_of(cell.inner),
                     width = angle_of(cell.outer) - from;
        const double size = std::max(height, width);
        const bool least = size <= narrow;
        if (size <= wide) {
            const std::complex<double> middle =
                std::polar(std::sqrt(cell.outer.low * cell.outer.high) / natural, from + 0.5 * width);
            int inside = 0, near = 0;
            for (const auto& mu : zeros.upper) {
                inside += cell.contains(mu * natural);
                near += std::abs(mu - middle) < size * std::abs(middle);
            }
            // One shift finds what lies next to it; where more is unknown than that, smaller cells say where
            // to look.
            if (unknown > 0 && unknown <= per_shift && search(middle, unknown + near + beside))
                unknown = missing(cell);
            if (unknown != 0 && inside > 0 && (inside <= few || least)) {
                settle_all(cell);
                unknown = missing(cell);
            }
            if (unknown == 0) return;
            if (least)
                throw NumericalError(
                    fmt::format("near {:.6g} Hz the argument count finds {} eigenvalues that were not found, "
                                "so modes may have been missed",
                                std::abs(middle) * natural / (2 * std::numbers::pi), unknown));
        }
        Cell first = cell, second = cell;
        if (height > width)
            first.outer.high = first.inner.high = second.outer.low = second.inner.low =
                std::sqrt(cell.outer.low * cell.outer.high);
        else
            first.outer.damping = second.inner.damping = -std::cos(from + 0.5 * width);
        resolve(first);
        resolve(second);
    }

    SectorModes find(const Sector& sector) {
        SectorModes out;
        const long before = path->determinants();
        Sector nothing = sector;
        nothing.damping = -1;
        if (missing(sector) != 0) {
            resolve({sector, nothing});
            if (missing(sector) != 0)
                throw NumericalError("the argument count does not agree with the modes found");
        }
        out.counted = count_known(sector);
        out.determinants = path->determinants() - before;
        int refined_inside = 0;
        for (size_t i = 0; i < found.size(); ++i) {
            if (!sector.contains(found[i].eigenvalue)) continue;
            in_a_sector[i] = 1;
            if (!found[i].refined) {
                found[i] = described(refine_cluster(*lu, e, a, zeros.upper[i], 1).front(), true);
                zeros.upper[i] = found[i].eigenvalue / natural;
            }
            if (sector.contains(found[i].eigenvalue)) refined_inside += weight(zeros.upper[i]);
            out.modes.push_back(found[i]);
        }
        if (refined_inside != out.counted)
            throw NumericalError(
                "an eigenvalue lies so near the boundary of an argument count that refining it changes the "
                "count");
        split_equal(out.modes);
        return out;
    }
};

SparseModeSolver::SparseModeSolver(int positions) : state_(std::make_unique<State>(positions)) {}
SparseModeSolver::~SparseModeSolver() = default;
void SparseModeSolver::set(const Network& network) {
    state_->set(network);
}
SectorModes SparseModeSolver::find(const Sector& sector) {
    return state_->find(sector);
}
long SparseModeSolver::entries_in_factors() const {
    return state_->lu->entries_in_factors();
}
int SparseModeSolver::unknowns() const {
    return state_->lu->size();
}

void SparseModeSolver::look_beside(const Sector& sector) {
    const std::complex<double> place = state_->path->restless(sector.low / natural, sector.high / natural);
    constexpr int some = 8;
    if (place != 0.0) state_->search(place, some);
}

std::vector<SparseMode> SparseModeSolver::neighbours() const {
    std::vector<SparseMode> out;
    for (size_t i = 0; i < state_->found.size(); ++i)
        if (!state_->in_a_sector[i]) out.push_back(state_->found[i]);
    return out;
}

std::vector<SparseMode> SparseModeSolver::refine(std::complex<double> eigenvalue) {
    return state_->refined_at(eigenvalue / natural);
}

}  // namespace ringquell::internal
