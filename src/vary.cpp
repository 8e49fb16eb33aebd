#include "ringquell/vary.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "boundary_cache.h"
#include "gate_current.h"
#include "ringquell/numbers.h"
#include "ringquell/sensitivity.h"
#include "ringquell/state_space.h"

namespace ringquell {

namespace {

bool is_shared(const std::string& key) {
    return key.starts_with("power_loop") || key.starts_with("driver") || key.starts_with("buses");
}

/// Does the number change the devices' values at a point, so that the path has to be walked again?
bool changes_path(const std::string& key) {
    return key.starts_with("device") || key.starts_with("operation") ||
           key.find("complementary") != std::string::npos || key.find(".bead") != std::string::npos ||
           key.starts_with("gate_path.resistor");
}

/// A case of one's own in which numbers can be moved, with a solver that keeps what it has recorded.
class Movable {
  public:
    Movable(const Case& input, const std::vector<std::string>& keys) : case_(input) {
        for (const std::string& key : keys) {
            const Number number = find_number(case_, key);
            if (numbers_.empty()) dimension = number.dimension;
            // Any resistance of the gate's circuit may move the bias of a bead.
            walk_again_ = walk_again_ || changes_path(key) || has_saturating_bead(case_);
            numbers_.push_back(number);
        }
        now = *numbers_.front().values.front();
        for (const Number& n : numbers_) factors_.push_back(now != 0 ? *n.values.front() / now : 1.0);
        path_ = operating_path(case_);
        solver_.emplace(case_);
    }
    Movable(const Movable&) = delete;
    Movable& operator=(const Movable&) = delete;

    /// Throws InputError where the case cannot be with the value.
    void set(double value) {
        tried_ = value;
        if (value == at_) return;
        at_ = std::nan("");  // until the case is whole again
        for (size_t k = 0; k < numbers_.size(); ++k)
            for (double* v : numbers_[k].values) *v = value * factors_[k];
        solver_->case_changed();
        if (walk_again_) path_ = operating_path(case_);
        at_ = value;
    }
    /// Does every network of the case exist with this value? Not, say, where inductances would share more
    /// flux than there is.
    bool possible(double value) {
        try {
            set(value);
            std::vector<const OperatingPoint*>
                seen;  // one of each edge and state of the complementary device
            for (const OperatingPoint& point : path_.points) {
                if (std::any_of(seen.begin(), seen.end(), [&](const OperatingPoint* p) {
                        return p->edge == point.edge && p->complementary == point.complementary;
                    }))
                    continue;
                seen.push_back(&point);
                for (const Block block : alike(point) ? std::vector{Block::common, Block::differential}
                                                      : std::vector{Block::whole})
                    build_network(case_, point, {block});
            }
            return true;
        } catch (const InputError&) {
            return false;
        }
    }
    /// The last value on the way from `start`, which can be, towards `end` that can be, a little before the
    /// first that cannot. What can be is a range: inductance matrices that are positive definite are a convex
    /// set.
    double reach(double start, double end) {
        if (possible(end)) return end;
        constexpr double precision = 1e-9, inside = 1e-3;
        double can = start, cannot = end;
        while (std::abs(cannot - can) > precision * std::abs(end - start)) {
            const double middle = 0.5 * (can + cannot);
            (possible(middle) ? can : cannot) = middle;
        }
        return can + inside * (start - can);
    }
    std::vector<Mode> modes(size_t point, double value) {
        set(value);
        return solver_->solve(path_.points[point]).modes;
    }
    /// The value set last, whether it could be or not.
    double tried() const { return tried_; }
    /// Does everything asked hold there: dampings, no growth, nor with the gain margin asked?
    bool passes(size_t point, double value) {
        const Requirement& require = case_.require;
        const auto found = modes(point, value);
        if (std::any_of(found.begin(), found.end(), [&](const Mode& m) { return misses(m, require); }))
            return false;
        return !require.gain_margin || !grows_with_gain(*solver_, path_.points[point], *require.gain_margin);
    }
    const OperatingPath& path() const { return path_; }
    const Case& input() const { return case_; }
    bool alike(size_t point) const { return alike(path_.points[point]); }
    bool alike(const OperatingPoint& point) const { return solver_->alike(point); }

    Dimension dimension = Dimension::number;
    double now = 0;

  private:
    Case case_;
    std::vector<Number> numbers_;
    std::vector<double> factors_;
    OperatingPath path_;
    std::optional<ModeSolver> solver_;
    bool walk_again_ = false;
    double at_ = std::nan(""), tried_ = std::nan("");
};

double default_top(Dimension dimension, double now, const Requirement& require) {
    if (now > 0) return 10 * now;
    switch (dimension) {
        case Dimension::inductance:
            return 100e-9;
        case Dimension::capacitance:
            return 10e-9;
        case Dimension::resistance:
            return require.gate_resistance_limit_ohm;
        case Dimension::conductance:
            return 10;
        default:
            return 1;
    }
}

/// All values in [from, to] at which this point's modes can bound a window (in an uneven layout all but a
/// change of kind); empty optional where the key is not of rank one, as a key of all positions that differ.
std::optional<std::vector<double>> candidates(Movable& movable, const std::string& key, size_t point,
                                              bool common_too, double from, double to, BoundaryCache& cache) {
    const Case& input = movable.input();
    const double there = to != 0 ? to : from;  // an element that is zero now must be there
    movable.set(there);
    const bool alike = movable.alike(point);
    const OperatingPoint& p = movable.path().points[point];
    std::vector<double> out;
    for (Block block : alike ? std::vector{Block::differential, Block::common} : std::vector{Block::whole}) {
        if (block == Block::differential && input.n() == 1) continue;
        if (block == Block::common && !common_too) continue;
        const Network network = build_network(input, p, {block, true, false});
        size_t found = network.elements.size();
        for (size_t i = 0; i < network.elements.size(); ++i) {
            if ((alike ? network.elements[i].name : network.elements[i].label()) != key) continue;
            if (found != network.elements.size()) return std::nullopt;
            found = i;
        }
        if (found == network.elements.size()) {
            // A shared part is in no differential block, and the other edge's part not in this network: it
            // moves nothing here.
            bool known = is_shared(key) && block == Block::differential;
            known = known || key.starts_with("driver.pull_") || key.starts_with("driver.bypass") ||
                    key.starts_with("driver.turn_off_bypass") ||
                    key.find("complementary") != std::string::npos;
            if (!known) return std::nullopt;
            continue;
        }
        const Element& e = network.elements[found];
        if (e.kind == ElementKind::mutual) return std::nullopt;
        if (e.kind == ElementKind::resistance && has_saturating_bead(input) &&
            (key.starts_with("gate_path") || key.starts_with("kelvin_path") || key.starts_with("driver") ||
             key.starts_with("device")))
            return std::nullopt;  // the bias of a bead moves with it
        const double value = e.reciprocal ? 1 / (e.scale * e.value) : e.value / e.scale;
        if (std::abs(value - there) > 1e-12 * std::abs(there))
            return std::nullopt;  // the network does not take the key as it is
        const int number = static_cast<int>(found);
        for (const Element& m : network.elements)  // a coupling by coefficient moves with it
            if (m.name.ends_with(".coefficient") && (m.first == number || m.second == number))
                return std::nullopt;
        std::vector<double> targets;
        if (block != Block::common) targets.push_back(input.require.differential_damping);
        if (block != Block::common && input.require.passive_damping)
            targets.push_back(*input.require.passive_damping);
        if (block != Block::differential && common_too)
            targets.push_back(input.require.common_damping.value_or(0));
        for (const double target : targets)
            for (double v : boundary_values(network, found, target, input.require,
                                            std::numeric_limits<double>::infinity(), &cache)) {
                const double k = e.reciprocal
                                     ? (v > 0 ? 1 / (e.scale * v) : std::numeric_limits<double>::infinity())
                                     : v / e.scale;
                if (k > from && k < to) out.push_back(k);
            }
    }
    std::sort(out.begin(), out.end());
    return out;
}

double slope_by_difference(Movable& movable, size_t point, double value, const Mode& mode, double range) {
    const double step = 1e-6 * range;
    const auto nearest = [&](double at) {
        const auto modes = movable.modes(point, at);
        const auto it = std::min_element(modes.begin(), modes.end(), [&](const Mode& a, const Mode& b) {
            return std::abs(a.eigenvalue - mode.eigenvalue) < std::abs(b.eigenvalue - mode.eigenvalue);
        });
        return it == modes.end() ? mode.damping_ratio() : it->damping_ratio();
    };
    return (nearest(value + step) - mode.damping_ratio()) / step;
}

/// The windows of [from, to] of `out`. Throws InputError where the case cannot be with a value in it.
void search_range(Movable& movable, const Requirement& require, Varied& out) {
    out.acceptable = {};
    out.acceptable.key = out.keys.front();
    out.acceptable.complete = true;
    out.acceptable.windows = {{out.from, out.to, Bound::limit, Bound::limit, {}, {}}};
    std::vector<OperatingPoint> seen;
    BoundaryCache cache;
    movable.set(movable.now);
    const size_t count = movable.path().points.size();
    for (size_t i = 0; i < count && !out.acceptable.windows.empty(); ++i) {
        movable.set(movable.now);
        const OperatingPoint point = movable.path().points[i];
        if (!point.judged) continue;
        if (std::any_of(seen.begin(), seen.end(),
                        [&](const OperatingPoint& p) { return same_network(p, point); }))
            continue;
        seen.push_back(point);
        Search search;
        search.require = &require;
        search.common_too = out.common_too;
        search.point = point.name;
        search.modes_at = [&](double value) { return movable.modes(i, value); };
        if (out.keys.size() == 1) {
            try {
                search.candidates =
                    candidates(movable, out.keys.front(), i, out.common_too, out.from, out.to, cache);
            } catch (const NumericalError&) {
                // The values may be such that a pencil of the bounds is singular; then sample.
            }
        }
        search.kinds_move = !movable.alike(i);
        if (!search.candidates) {
            search.damping_slope = [&](double value, const Mode& mode) {
                return slope_by_difference(movable, i, value, mode, out.to - out.from);
            };
        }
        std::vector<Window> left;
        for (const Window& window : out.acceptable.windows) {
            search.low = window.low;
            search.high = window.high;
            if (!(window.high - window.low > 1e-9 * (out.to - out.from))) continue;
            Searched found = search_windows(search, out.acceptable.evaluations);
            out.acceptable.complete = out.acceptable.complete && found.complete;
            for (Window& w : found.windows) {
                if (w.low == window.low) w.low_bound = window.low_bound, w.low_point = window.low_point;
                if (w.high == window.high) w.high_bound = window.high_bound, w.high_point = window.high_point;
                left.push_back(w);
            }
        }
        out.acceptable.windows = std::move(left);
    }
}

}  // namespace

Varied acceptable_values(const Case& input, const std::vector<std::string>& keys,
                         const VaryOptions& options) {
    Movable movable(input, keys);
    Varied out;
    out.keys = keys;
    out.dimension = movable.dimension;
    out.now = movable.now;
    out.common_too = options.common_too.value_or(std::any_of(keys.begin(), keys.end(), is_shared));
    const bool coefficient = keys.front().ends_with(".coefficient");
    const bool mutual = keys.front().starts_with("couplings[") && !coefficient;  // of either sign, too
    const double top = default_top(out.dimension, mutual ? std::abs(out.now) : out.now, input.require);
    out.from = options.from.value_or(coefficient ? -0.99 : mutual ? -top : 0);
    out.to = options.to.value_or(coefficient ? 0.99 : top);
    if (!(out.from < out.to))
        throw InputError({}, "--from", "the range is empty; expected --from below --to");
    // What the network cannot be ends the range: seen at the ends, as a rule, else on the way.
    const double start = std::clamp(out.now, out.from, out.to);
    if (!movable.possible(start)) {
        out.acceptable.key = keys.front();
        out.acceptable.complete = true;
        return out;
    }
    out.from = movable.reach(start, out.from);
    out.to = movable.reach(start, out.to);
    constexpr int most_ends = 8;
    for (int ends = 0;; ++ends) {
        try {
            search_range(movable, input.require, out);
            return out;
        } catch (const InputError&) {
            const double at = movable.tried();
            if (ends == most_ends || at == start) throw;
            (at > start ? out.to : out.from) = movable.reach(start, at);
        }
    }
}

std::vector<std::string> layout_keys(const Case& input) {
    std::vector<std::string> out;
    for (const std::string& key : number_keys(input)) {
        const bool inductance =
            key.ends_with("inductance") || key.starts_with("device.package.") || key.ends_with(".esl");
        const bool layout = key.starts_with("gate_path.inductance") || key.starts_with("kelvin_path.") ||
                            key.starts_with("drain_path.") || key.starts_with("source_path.") ||
                            key.starts_with("buses.") || key.starts_with("snubber.") ||
                            key.starts_with("driver.") || key.starts_with("power_loop.") ||
                            key.starts_with("device.package.") || key.starts_with("leg.");
        if (inductance && layout && key.find("load") == std::string::npos &&
            key.find("bead") == std::string::npos && key.find('[') == std::string::npos)
            out.push_back(key);
    }
    return out;
}

std::optional<double> passing_value(const Case& input, const std::string& key, const CheckResult& result) {
    Movable movable(input, {key});
    if (movable.now == 0 && key.ends_with(".coefficient")) return std::nullopt;
    const Requirement& require = input.require;
    const auto passes_at_point = [&](size_t i, double value) {
        try {
            return movable.passes(i, value);
        } catch (const InputError&) {
            return false;  // cannot be
        } catch (const NumericalError&) {
            return false;  // cannot be told
        }
    };
    // Points that fail as things are, hardest first; others join where a value makes them fail.
    std::vector<size_t> active, distinct;
    std::vector<std::pair<double, size_t>> failing;
    for (size_t i = 0; i < result.points.size(); ++i) {
        const PointResult& r = result.points[i];
        if (!r.point.judged) continue;
        if (std::any_of(distinct.begin(), distinct.end(),
                        [&](size_t j) { return same_network(result.points[j].point, r.point); }))
            continue;
        distinct.push_back(i);
        double least = 1;
        bool fails = false;
        for (const Mode& m : r.modes.modes)
            if (misses(m, require)) {
                fails = true;
                least = std::min(least, m.damping_ratio());
            }
        if (!fails && require.gain_margin) fails = !movable.passes(i, movable.now);
        if (fails) failing.emplace_back(least, i);
    }
    if (failing.empty()) return movable.now;
    std::sort(failing.begin(), failing.end());
    active.push_back(failing.front().second);
    const auto passes_active = [&](double value) {
        return std::all_of(active.begin(), active.end(), [&](size_t i) { return passes_at_point(i, value); });
    };
    const double scale = movable.now != 0 ? movable.now : default_top(movable.dimension, 0, require) / 10;
    constexpr std::array up{1.03, 1.1, 1.25, 1.5, 2.0, 3.0, 5.0, 10.0};
    constexpr std::array down{0.97, 0.9, 0.8, 0.65, 0.5, 0.3, 0.1, 0.0};
    const double highest = movable.now == 0 ? scale * (up.back() - 1) : scale * up.back();
    const double last_up = movable.reach(movable.now, highest);
    const double last_down = movable.now == 0 ? 0 : movable.reach(movable.now, scale * down.back());
    constexpr int most_rounds = 6;
    for (int round = 0; round < most_rounds; ++round) {
        std::optional<double> best;
        // Outward in both directions; the first step that passes brackets the nearest value.
        double below = movable.now, above = movable.now;
        for (size_t k = 0; k < up.size() && !best; ++k) {
            for (const bool upward : {true, false}) {
                if (!upward && movable.now == 0) continue;
                const double last = upward ? last_up : last_down;
                double& short_of = upward ? above : below;
                if (short_of == last) continue;  // beyond it nothing can be
                double next =
                    upward ? (movable.now == 0 ? scale * (up[k] - 1) : scale * up[k]) : scale * down[k];
                if (std::abs(next - movable.now) > std::abs(last - movable.now)) next = last;
                if (!passes_active(next)) {
                    short_of = next;
                    continue;
                }
                double bad = short_of, good = next;
                constexpr double precision = 1e-6;
                while (std::abs(good - bad) > precision * std::abs(good)) {
                    const double middle = 0.5 * (good + bad);
                    (passes_active(middle) ? good : bad) = middle;
                    if (std::abs(good) < 1e-30) break;
                }
                best = good;
                break;
            }
        }
        if (!best) return std::nullopt;
        // Does every other point pass there, too?
        std::optional<size_t> spoils;
        for (size_t i : distinct)
            if (std::find(active.begin(), active.end(), i) == active.end() && !passes_at_point(i, *best)) {
                spoils = i;
                break;
            }
        if (!spoils) return best;
        active.push_back(*spoils);
    }
    return std::nullopt;
}

}  // namespace ringquell
