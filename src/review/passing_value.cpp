#include "review/passing_value.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "sizing/trial.h"

namespace ringquell::internal {

std::optional<double> passing_value(const Case& input, const std::string& key, const CheckResult& result) {
    Trial trial(input, {key});
    if (trial.now == 0 && key.ends_with(".coefficient")) return std::nullopt;
    const Requirement& require = input.require;
    const auto passes_at_point = [&](size_t i, double value) {
        try {
            return trial.passes(i, value);
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
        if (!fails && require.gain_margin) fails = !trial.passes(i, trial.now);
        if (fails) failing.emplace_back(least, i);
    }
    if (failing.empty()) return trial.now;
    std::sort(failing.begin(), failing.end());
    active.push_back(failing.front().second);
    const auto passes_active = [&](double value) {
        return std::all_of(active.begin(), active.end(), [&](size_t i) { return passes_at_point(i, value); });
    };
    const double scale = trial.now != 0 ? trial.now : default_top(trial.dimension, 0, require) / 10;
    constexpr std::array up{1.03, 1.1, 1.25, 1.5, 2.0, 3.0, 5.0, 10.0};
    constexpr std::array down{0.97, 0.9, 0.8, 0.65, 0.5, 0.3, 0.1, 0.0};
    const double highest = trial.now == 0 ? scale * (up.back() - 1) : scale * up.back();
    const double last_up = trial.reach(trial.now, highest);
    const double last_down = trial.now == 0 ? 0 : trial.reach(trial.now, scale * down.back());
    constexpr int most_rounds = 6;
    for (int round = 0; round < most_rounds; ++round) {
        std::optional<double> best;
        // Outward in both directions; the first step that passes brackets the nearest value.
        double below = trial.now, above = trial.now;
        for (size_t k = 0; k < up.size() && !best; ++k) {
            for (const bool upward : {true, false}) {
                if (!upward && trial.now == 0) continue;
                const double last = upward ? last_up : last_down;
                double& short_of = upward ? above : below;
                if (short_of == last) continue;  // beyond it nothing can be
                double next =
                    upward ? (trial.now == 0 ? scale * (up[k] - 1) : scale * up[k]) : scale * down[k];
                if (std::abs(next - trial.now) > std::abs(last - trial.now)) next = last;
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

}  // namespace ringquell::internal
