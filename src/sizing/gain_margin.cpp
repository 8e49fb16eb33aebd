// A(m) of a point is affine in the factor m of its transconductances, of the rank of their number, so that
// the factors at which an eigenvalue meets the imaginary axis or zero are those of pair_pencil.h, all of
// them: between two neighbours nothing begins to grow or ceases to. Where A is not affine (a gain at a node
// without capacitance), or the pencil too large, a grid of factors is looked at.
#include "ringquell/gain_margin.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "modes/effort.h"
#include "modes/examine.h"
#include "modes/ranking.h"
#include "network/cache.h"
#include "network/reducer.h"
#include "numerics/pair_pencil.h"

namespace ringquell {

using namespace internal;

namespace {

constexpr double fine = 1.05, coarse = 1.25, rough = 2;  // ratios of the grids
constexpr double refined_to = 1e-6;
/// Growth slower than this share of |λ| is looked at more closely: rounding may decide its sign.
constexpr double clear_growth = 1e-9;
/// Cube of the pencil's order times the number of points, of which a processor does some 400 million a
/// second.
constexpr double pencil_budget = 1e8;

bool decides(const ModeSolver& solver, const OperatingPoint& point, const Mode& mode) {
    if (!grows(mode)) return false;
    if (mode.damping_ratio() < -clear_growth) return true;
    return examine(solver.input(), point, solver.alike(point), mode, 0).damping_uncertainty <
           -mode.damping_ratio();
}

/// The mode that grows fastest for its frequency, of those that decide and count.
std::optional<Mode> fastest(ModeSolver& solver, const OperatingPoint& point, const ModeTest& counts) {
    std::optional<Mode> out;
    for (const Mode& mode : solver.solve(point).modes)
        if (counts(mode) && decides(solver, point, mode) &&
            (!out || mode.damping_ratio() < out->damping_ratio()))
            out = mode;
    return out;
}

bool has_gain(const OperatingPoint& point) {
    return std::any_of(point.devices.begin(), point.devices.end(), [](const DeviceValues& d) {
        return d.mosfet.transconductance_s != 0 || d.jfet.transconductance_s != 0;
    });
}

/// The factors of one point at which something begins to grow or ceases to. An end is found to some 1e-6 of
/// the whole range of factors: one near 0 is found closer by halving.
class PointGain {
  public:
    PointGain(ModeSolver& solver, NetworkCache& networks, const OperatingPoint& point, bool in_band_only,
              double budget)
        : solver_(solver), networks_(networks), point_(point), in_band_only_(in_band_only), budget_(budget) {}

    /// Was a grid of factors looked at, because not every end could be found?
    bool by_grid() const { return searched_ && ends_.empty(); }
    double ratio() const {
        if (solver_.alike(point_)) return fine;
        return solver_.input().n() < rough_gain_from ? coarse : rough;
    }

    /// What grows fastest at a factor.
    std::optional<Mode> growing(double factor) const {
        return fastest(solver_, with_gain(point_, factor), [this](const Mode& mode) {
            return !in_band_only_ || mode.natural_frequency_hz() <= solver_.input().require.band_high_hz;
        });
    }

    /// The least factor in [1, to] from which it grows.
    std::optional<double> least(double to) {
        find_ends();
        if (by_grid()) return least_of_grid(to);
        for (size_t i = 0; i + 1 < ends_.size() && ends_[i] < to; ++i) {
            const double low = std::max(1.0, ends_[i]), middle = 0.5 * (low + ends_[i + 1]);
            if (ends_[i + 1] > low && growing(middle))
                return low == 1 || growing(low * (1 + refined_to)) ? low : between(low, middle);
        }
        return std::nullopt;
    }
    /// The greatest factor up to `to` just below which it does not grow.
    double greatest_quiet(double to) {
        constexpr double just_below = 1 - 1e-9;
        if (!growing(to * just_below)) return to;
        find_ends();
        if (by_grid()) return quiet_of_grid(to);
        for (size_t i = ends_.size() - 1; i-- > 0;) {
            const double high = std::min(to, ends_[i + 1]), middle = 0.5 * (ends_[i] + high);
            if (high > ends_[i] && !growing(middle))
                return growing(high * (1 - refined_to)) ? between(middle, high) : high;
        }
        return 0;
    }

  private:
    void find_ends() {
        searched_ = true;
        std::vector<double> found;
        const bool alike = solver_.alike(point_);
        if (has_gain(point_))
            for (const Block block :
                 alike ? std::vector{Block::common, Block::differential} : std::vector{Block::whole}) {
                if (block == Block::differential && solver_.input().n() == 1) continue;
                const auto more = ends_of(block);
                if (!more) return;
                found.insert(found.end(), more->begin(), more->end());
            }
        std::sort(found.begin(), found.end());
        ends_.push_back(0);
        constexpr double same = 1e-9;
        for (const double factor : found)
            if (factor > ends_.back() + same * largest_gain_factor && factor < largest_gain_factor)
                ends_.push_back(factor);
        ends_.push_back(largest_gain_factor);
    }
    /// Empty: A is not affine in the factor, or it would take too long.
    std::optional<std::vector<double>> ends_of(Block block) {
        const auto a = [&](double factor) {
            return networks_.at(with_gain(point_, factor), {block, false}).reduced().a();
        };
        const auto too_large = [&](Eigen::Index order) {
            return block == Block::whole && std::pow(static_cast<double>(order), 3) > budget_;
        };
        if (too_large(a(1).rows())) return std::nullopt;
        const auto family = resistive_family(a, largest_gain_factor);
        if (!family || too_large(family->order() / 2)) return std::nullopt;
        std::vector<double> radii;
        if (in_band_only_)
            radii.push_back(2 * std::numbers::pi * solver_.input().require.band_high_hz / natural);
        return pair_boundary_values(*family, 0, radii, largest_gain_factor);
    }

    std::optional<double> least_of_grid(double to) const {
        for (double quiet = 1; quiet < to;) {
            const double next = std::min(to, quiet * ratio());
            if (growing(next)) return between(quiet, next);
            quiet = next;
        }
        return std::nullopt;
    }
    double quiet_of_grid(double to) const {
        constexpr double nothing = 1e-3;
        for (double grown = to; grown > nothing;) {
            const double next = grown / ratio();
            if (!growing(next)) return between(next, grown);
            grown = next;
        }
        return 0;
    }
    double between(double quiet, double grown) const {
        while (grown - quiet > refined_to * quiet) {
            const double middle = std::sqrt(quiet * grown);
            (growing(middle) ? grown : quiet) = middle;
        }
        return quiet;
    }

    ModeSolver& solver_;
    NetworkCache& networks_;
    const OperatingPoint& point_;
    bool in_band_only_, searched_ = false;
    double budget_;
    std::vector<double> ends_;  // with 0 and the largest factor; empty: not known
};

/// The judged points that differ, the least damped first.
std::vector<size_t> hardest_to_search(const std::vector<PointResult>& results) {
    std::vector<size_t> order = distinct_points(results, judged_held);
    hardest_first(order, results, [](const PointResult& r) {
        return least_damping(r.modes.modes, [](const Mode&) { return true; });
    });
    return order;
}

class MarginSearch {
  public:
    MarginSearch(ModeSolver& solver, const std::vector<PointResult>& results, GainMargin& out)
        : solver_(solver),
          networks_(solver.input()),
          results_(results),
          order_(hardest_to_search(results)),
          out_(out) {}

    const std::vector<size_t>& order() const { return order_; }

    /// The least factor above 1 of all points.
    std::optional<GainMargin::Onset> upwards(bool in_band_only) {
        std::optional<size_t> where;
        double best = largest_gain_factor;
        for (const size_t i : order_) {
            PointGain point = of(i, in_band_only);
            if (const auto least = point.least(best)) {
                best = *least;
                where = i;
            }
            note(point);
        }
        if (!where) return std::nullopt;
        return onset(*where, best, in_band_only);
    }
    /// The greatest below 1 at which all points are quiet: what one asks for may wake another.
    GainMargin::Onset downwards(bool in_band_only) {
        size_t where = order_.front();
        double best = 1;
        for (bool again = true; again;) {
            again = false;
            for (const size_t i : order_) {
                PointGain point = of(i, in_band_only);
                const double quiet = point.greatest_quiet(best);
                note(point);
                if (!(quiet < best)) continue;
                best = quiet;
                where = i;
                again = true;
            }
        }
        return onset(where, best, in_band_only);
    }

  private:
    PointGain of(size_t i, bool in_band_only) {
        const double budget = pencil_budget / static_cast<double>(order_.size());
        return {solver_, networks_, results_[i].point, in_band_only, budget};
    }
    void note(const PointGain& point) {
        if (!point.by_grid()) return;
        out_.complete = false;
        out_.grid_ratio = std::max(out_.grid_ratio, point.ratio());
    }
    GainMargin::Onset onset(size_t i, double factor, bool in_band_only) {
        const PointGain point = of(i, in_band_only);
        GainMargin::Onset out{factor, i, {}};
        for (double beyond = 1e-5; beyond < 1; beyond *= 10)
            if (const auto mode = point.growing(factor * (1 + beyond))) {
                out.mode = *mode;
                break;
            }
        return out;
    }

    ModeSolver& solver_;
    NetworkCache networks_;
    const std::vector<PointResult>& results_;
    std::vector<size_t> order_;
    GainMargin& out_;
};

}  // namespace

OperatingPoint with_gain(const OperatingPoint& point, double factor) {
    OperatingPoint out = point;
    for (DeviceValues& d : out.devices) {
        d.mosfet.transconductance_s *= factor;
        d.jfet.transconductance_s *= factor;
    }
    return out;
}

std::optional<Mode> grows_with_gain(ModeSolver& solver, const OperatingPoint& point, double factor) {
    return fastest(solver, with_gain(point, factor), [](const Mode&) { return true; });
}

GainMargin gain_margin(ModeSolver& solver, const std::vector<PointResult>& results, bool required) {
    GainMargin out;
    MarginSearch search(solver, results, out);
    if (search.order().empty()) {
        out.left_out = "no point is judged";
        return out;
    }
    const Case& input = solver.input();
    const bool uneven = std::any_of(search.order().begin(), search.order().end(),
                                    [&](size_t i) { return !solver.alike(results[i].point); });
    if (uneven && input.n() >= rough_gain_from && !required) {
        out.left_out = "of many uneven positions it takes long; `require.gain_margin` asks for it";
        return out;
    }
    const double high = input.require.band_high_hz;
    bool below = false;  // something grows now within or below the band
    for (const size_t i : search.order())
        for (const Mode& mode : results[i].modes.modes)
            if (decides(solver, results[i].point, mode)) {
                out.grows_now = true;
                below = below || mode.natural_frequency_hz() <= high;
            }
    out.onset = out.grows_now ? search.downwards(false) : search.upwards(false);
    if (out.onset && out.onset->mode.natural_frequency_hz() > high)
        out.onset_in_band = below ? search.downwards(true) : search.upwards(true);
    return out;
}

std::optional<GainMargin::Onset> grows_with_gain(ModeSolver& solver, const std::vector<PointResult>& results,
                                                 double factor) {
    for (const size_t i : hardest_to_search(results))
        if (const auto mode = grows_with_gain(solver, results[i].point, factor))
            return GainMargin::Onset{factor, i, *mode};
    return std::nullopt;
}

}  // namespace ringquell
