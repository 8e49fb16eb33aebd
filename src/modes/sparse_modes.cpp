#include "modes/sparse_modes.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <numbers>

#include "numerics/rounding.h"
#include "ringquell/error.h"

namespace ringquell::internal {

namespace {

constexpr double two_pi = 2 * std::numbers::pi;
constexpr double lowest_hz = 1, highest_hz = 1e12;  // beyond, growth is not looked for

bool near(std::complex<double> a, std::complex<double> b, double share) {
    return std::abs(a - b) <= share * std::abs(b);
}

/// Gathers the modes that a verdict needs, step by step.
class Collection {
  public:
    Collection(SparseModeSolver& solver, const Case& input)
        : solver_(solver), input_(input), require_(input.require) {
        modes_.unknowns = solver.unknowns();
        modes_.method = Method::sparse;
        modes_.complete_list = false;
    }

    /// The band below the targets, and growth below and above it.
    void take_sectors() {
        // The sector reaches beyond the band by this share.
        constexpr double edge = 1e-6;
        const double low = two_pi * require_.band_low_hz * (1 - edge),
                     high = two_pi * require_.band_high_hz * (1 + edge);
        const Sector band{low, high, target()};
        const SectorModes in_it = take(band);
        counted_ = in_it.counted;
        band_pairs_ = std::count_if(modes_.modes.begin(), modes_.modes.end(),
                                    [](const Mode& m) { return m.oscillates(); });
        // So that the least damped of what passes is seen, too; where a mode of each kind misses, they are the worst.
        constexpr int looks = 2;
        if (!both_kinds_seen())
            for (int k = 0; k < looks; ++k) solver_.look_beside(band);
        take({two_pi * lowest_hz, low, 0});
        take({high, two_pi * highest_hz, 0});
    }

    /// Of what lies beside the sectors: the least damped in the band, a few and as many as it takes to see one of each
    /// kind, each as often as it occurs, to full accuracy.
    void take_neighbours() {
        constexpr size_t few = 8;
        std::vector<Mode> beside;
        for (const SparseMode& f : solver_.neighbours()) {
            const Mode mode = to_mode(f);
            if (mode.oscillates() && in_band(mode, require_)) beside.push_back(mode);
        }
        std::sort(beside.begin(), beside.end(),
                  [](const Mode& x, const Mode& y) { return x.damping_ratio() < y.damping_ratio(); });
        std::vector<std::complex<double>> refined;
        for (const Mode& m : beside) {
            const bool known = std::any_of(refined.begin(), refined.end(), [&](std::complex<double> r) {
                return near(m.eigenvalue, r, one_eigenvalue);
            });
            if (known || (refined.size() >= few && both_kinds_seen())) continue;
            refined.push_back(m.eigenvalue);
            add_refined(m.eigenvalue);
        }
    }

    Modes with_proof() {
        modes_.proof = fmt::format(
            "{} eigenvalues ({} oscillatory modes) found in the band below a damping of {:.4g}, {} by the "
            "change of "
            "argument of the determinant along its boundary; {} growing eigenvalues from {:.0f} Hz to {:.0g} "
            "Hz, "
            "counted likewise; {} determinants along the paths; of the modes above that damping only some "
            "are listed",
            counted_, band_pairs_, target(), counted_, growing_, lowest_hz, highest_hz, determinants_);
        return std::move(modes_);
    }

  private:
    double target() const {
        return std::max(require_.differential_damping, require_.common_damping.value_or(0));
    }

    Mode to_mode(const SparseMode& f) const {
        const ModeKind kind =
            input_.n() > 1 && f.common_share < 0.5 ? ModeKind::differential : ModeKind::common;
        Mode mode{f.eigenvalue, kind, f.common_share, 1};
        if (require_.passive_damping && kind == ModeKind::differential && mode.oscillates() &&
            in_band(mode, require_))
            mode.gain_feed = f.gain_feed;
        return mode;
    }

    bool seen(ModeKind kind) const {
        return std::any_of(modes_.modes.begin(), modes_.modes.end(),
                           [&](const Mode& m) { return m.oscillates() && m.kind == kind; });
    }
    bool both_kinds_seen() const { return seen(ModeKind::differential) && seen(ModeKind::common); }

    /// Beyond target and imaginary axis the path runs by one of these dampings, the next one where an eigenvalue lies
    /// on it. Loops without loss lie on the axis: no path may come so near to it that they cannot be told from it.
    SectorModes found_in(Sector sector) {
        constexpr std::array margins{1e-4, 3e-4, 1e-3};
        constexpr double largest = 0.9999;
        const double damping = sector.damping;
        for (size_t k = 0;; ++k) {
            sector.damping = std::min(largest, damping + margins[k]);
            try {
                return solver_.find(sector);
            } catch (const NumericalError&) {
                if (k + 1 == margins.size()) throw;
            }
        }
    }

    SectorModes take(const Sector& sector) {
        if (!(sector.high > sector.low)) return {};
        SectorModes found = found_in(sector);
        determinants_ += found.determinants;
        for (const SparseMode& f : found.modes) {
            growing_ += f.eigenvalue.real() > 0;
            modes_.modes.push_back(to_mode(f));
        }
        return found;
    }

    /// What the Krylov spaces found twice, each time a little beside it, is refined to one place.
    void add_refined(std::complex<double> eigenvalue) {
        const auto listed = static_cast<long>(modes_.modes.size());
        for (const SparseMode& f : solver_.refine(eigenvalue)) {
            const bool twice = std::any_of(
                modes_.modes.begin(), modes_.modes.begin() + listed,
                [&](const Mode& other) { return near(other.eigenvalue, f.eigenvalue, equal_eigenvalues); });
            if (!twice) modes_.modes.push_back(to_mode(f));
        }
    }

    SparseModeSolver& solver_;
    const Case& input_;
    const Requirement& require_;
    Modes modes_;
    long determinants_ = 0, band_pairs_ = 0;
    int counted_ = 0, growing_ = 0;
};

}  // namespace

Modes sparse_modes(SparseModeSolver& solver, const Network& network, const Case& input) {
    solver.set(network);
    Collection collection(solver, input);
    collection.take_sectors();
    collection.take_neighbours();
    return collection.with_proof();
}

}  // namespace ringquell::internal
