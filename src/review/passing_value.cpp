#include "review/passing_value.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "modes/ranking.h"
#include "sizing/moved_numbers.h"

namespace ringquell::internal {

namespace {

/// Outward from the value now in both directions; the first step that passes brackets the nearest value.
class PassingValue {
  public:
    PassingValue(const Case& input, const std::string& key, const CheckResult& result)
        : numbers_(input, {key}), require_(input.require), result_(result) {}

    double now() const { return numbers_.now; }

    std::optional<double> find() {
        distinct_ = distinct_points(result_.points, judged_held);
        const auto hardest = hardest_failing();
        if (!hardest) return now();
        active_.push_back(*hardest);
        set_ends();
        constexpr int most_rounds = 6;
        for (int round = 0; round < most_rounds; ++round) {
            const auto best = nearest_passing();
            if (!best) return std::nullopt;
            const auto spoils = fails_at(*best);
            if (!spoils) return best;
            active_.push_back(*spoils);
        }
        return std::nullopt;
    }

  private:
    static constexpr std::array up{1.03, 1.1, 1.25, 1.5, 2.0, 3.0, 5.0, 10.0};
    static constexpr std::array down{0.97, 0.9, 0.8, 0.65, 0.5, 0.3, 0.1, 0.0};

    /// Of the points that fail as things are.
    std::optional<size_t> hardest_failing() {
        const auto missing = [this](const Mode& m) { return misses(m, require_); };
        std::vector<size_t> failing;
        for (const size_t i : distinct_) {
            const auto& modes = result_.points[i].modes.modes;
            const bool fails = std::any_of(modes.begin(), modes.end(), missing) ||
                               (require_.gain_margin && !numbers_.passes(i, now()));
            if (fails) failing.push_back(i);
        }
        if (failing.empty()) return std::nullopt;
        hardest_first(failing, result_.points,
                      [&](const PointResult& r) { return least_damping(r.modes.modes, missing); });
        return failing.front();
    }

    /// The ends of the search, as far as the case can be.
    void set_ends() {
        scale_ = now() != 0 ? now() : default_top(numbers_.dimension, 0, require_) / 10;
        last_up_ = numbers_.reach(now(), step_up(up.size() - 1));
        last_down_ = now() == 0 ? 0 : numbers_.reach(now(), scale_ * down.back());
    }
    double step_up(size_t k) const { return now() == 0 ? scale_ * (up[k] - 1) : scale_ * up[k]; }

    bool passes(size_t point, double value) {
        try {
            return numbers_.passes(point, value);
        } catch (const InputError&) {
            return false;  // cannot be
        } catch (const NumericalError&) {
            return false;  // cannot be told
        }
    }
    bool passes_active(double value) {
        return std::all_of(active_.begin(), active_.end(), [&](size_t i) { return passes(i, value); });
    }
    /// A point beside the active ones that fails there.
    std::optional<size_t> fails_at(double value) {
        for (const size_t i : distinct_)
            if (std::find(active_.begin(), active_.end(), i) == active_.end() && !passes(i, value)) return i;
        return std::nullopt;
    }

    /// Of the active points together.
    std::optional<double> nearest_passing() {
        double below = now(), above = now();
        for (size_t k = 0; k < up.size(); ++k)
            for (const bool upward : {true, false}) {
                if (!upward && now() == 0) continue;
                const double last = upward ? last_up_ : last_down_;
                double& short_of = upward ? above : below;
                if (short_of == last) continue;  // beyond it nothing can be
                double next = upward ? step_up(k) : scale_ * down[k];
                if (std::abs(next - now()) > std::abs(last - now())) next = last;
                if (passes_active(next)) return between(short_of, next);
                short_of = next;
            }
        return std::nullopt;
    }

    /// The least good value, by halving.
    double between(double bad, double good) {
        constexpr double precision = 1e-6, nothing = 1e-30;
        while (std::abs(good - bad) > precision * std::abs(good)) {
            const double middle = 0.5 * (good + bad);
            (passes_active(middle) ? good : bad) = middle;
            if (std::abs(good) < nothing) break;
        }
        return good;
    }

    MovedNumbers numbers_;
    const Requirement& require_;
    const CheckResult& result_;
    std::vector<size_t> distinct_;
    std::vector<size_t> active_;  // that are searched; others join where a value makes them fail
    double scale_ = 0, last_up_ = 0, last_down_ = 0;
};

}  // namespace

std::optional<double> passing_value(const Case& input, const std::string& key, const CheckResult& result) {
    PassingValue search(input, key, result);
    if (search.now() == 0 && key.ends_with(".coefficient")) return std::nullopt;
    return search.find();
}

}  // namespace ringquell::internal
