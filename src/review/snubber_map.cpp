#include "review/snubber_map.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <set>

#include "modes/effort.h"
#include "modes/ranking.h"
#include "review/parallel.h"
#include "sizing/trial.h"

namespace ringquell::internal {

namespace {

constexpr double typical_h = 5e-9, typical_least_f = 100e-12, typical_least_ohm = 1;
constexpr double two_decades = 100, rounding = 1e-9;

/// E6 values over two decades from `least` on.
std::vector<double> e6_from(double least, int every) {
    constexpr std::array<double, 6> e6{1, 1.5, 2.2, 3.3, 4.7, 6.8};
    std::vector<double> out;
    int k = 0;
    const int first = static_cast<int>(std::floor(std::log10(least)));
    for (int decade = first; decade <= first + 3; ++decade)
        for (const double step : e6) {
            const double value = step * std::pow(10.0, decade);
            if (value < least * (1 - rounding) || value > least * two_decades * (1 + rounding)) continue;
            if (k++ % every == 0) out.push_back(value);
        }
    return out;
}

void fit_snubbers(Case& input, double farad, double ohm, double henry) {
    for (Position& p : input.positions) {
        if (!p.snubber) p.snubber = SeriesRlc{0, 0, henry};
        p.snubber->capacitance_f = farad;
        p.snubber->resistance_ohm = ohm;
    }
}

/// The different networks among the judged points, hardest first.
std::vector<size_t> judged_points(const CheckResult& result) {
    std::vector<size_t> out = distinct_points(result.points, judged_held);
    hardest_first(out, result.points, [&](const PointResult& r) {
        double least = 1;
        for (const Mode& mode : r.modes.modes)
            if (grows(mode) || (mode.kind == ModeKind::differential && rings_in_band(mode, result.require)))
                least = std::min(least, damping_margin(mode, result.require));
        return least;
    });
    return out;
}

/// Of `candidates` the hardest as they are, and the hardest with each snubber of the map's corners.
std::vector<size_t> hardest_at_corners(const Case& input, const CheckResult& result, const SnubberMap& map,
                                       const std::vector<size_t>& candidates, size_t of_each) {
    std::set<size_t> out;
    const auto keep = [&](const std::vector<size_t>& order) {
        out.insert(order.begin(),
                   order.begin() + static_cast<std::ptrdiff_t>(std::min(of_each, order.size())));
    };
    keep(candidates);
    const std::array<std::pair<double, double>, 4> corners{
        {{map.capacitance_f.front(), map.resistance_ohm.front()},
         {map.capacitance_f.front(), map.resistance_ohm.back()},
         {map.capacitance_f.back(), map.resistance_ohm.front()},
         {map.capacitance_f.back(), map.resistance_ohm.back()}}};
    const ModeKind kind = input.n() > 1 ? ModeKind::differential : ModeKind::common;
    std::vector<std::vector<size_t>> found(corners.size());
    on_all_processors(
        corners.size(), [&] { return std::make_unique<Trial>(input); },
        [&](Trial& trial, size_t k) {
            trial.change_network(
                [&](Case& own) { fit_snubbers(own, corners[k].first, corners[k].second, map.inductance_h); });
            std::vector<std::pair<double, size_t>> order;
            for (const size_t i : candidates) {
                try {
                    const Modes modes = trial.modes(result.points[i].point);
                    const Mode* least = least_damped(modes.modes, kind, result.require);
                    order.emplace_back(least != nullptr ? least->damping_ratio() : 1, i);
                } catch (const NumericalError&) {
                    continue;
                }
            }
            std::sort(order.begin(), order.end());
            for (const auto& [damping, i] : order) found[k].push_back(i);
        });
    for (const std::vector<size_t>& order : found) keep(order);
    return {out.begin(), out.end()};
}

void fill(const Case& input, const CheckResult& result, const std::vector<size_t>& points, SnubberMap& map) {
    const size_t count = map.resistance_ohm.size();
    map.rows.assign(map.capacitance_f.size(), std::vector<LeastModes>(count));
    on_all_processors(
        map.rows.size() * count, [&] { return std::make_unique<Trial>(input); },
        [&](Trial& trial, size_t k) {
            trial.change_network([&](Case& own) {
                fit_snubbers(own, map.capacitance_f[k / count], map.resistance_ohm[k % count],
                             map.inductance_h);
            });
            LeastModes least;
            try {
                for (const size_t i : points)
                    least = worse_of(least,
                                     least_modes(trial.modes(result.points[i].point).modes, result.require));
            } catch (const NumericalError&) {
                return;
            }
            map.rows[k / count][k % count] = least;
        });
}

}  // namespace

SnubberMap snubber_map(const Case& input, const CheckResult& result) {
    SnubberMap map;
    const auto& snubber = input.positions.front().snubber;
    if (snubber && snubber->capacitance_f > 0) map.fitted = snubber;
    map.differ = std::any_of(input.positions.begin(), input.positions.end(),
                             [&](const Position& p) { return p.snubber != snubber; });
    map.inductance_h = snubber ? snubber->inductance_h : typical_h;
    std::vector<size_t> points = judged_points(result);
    map.points_of_path = points.size();
    const bool alike = std::all_of(result.points.begin(), result.points.end(),
                                   [](const PointResult& r) { return r.modes.by_blocks(); });
    if (points.empty())
        map.not_shown = "no point of the path is judged";
    else if (!alike && input.n() >= no_damping_plane_from)
        map.not_shown = "with so many positions that are not alike, it would take minutes";
    if (!map.not_shown.empty()) return map;

    const int every = alike ? 1 : 2;
    constexpr double decade = 10;
    map.capacitance_f = e6_from(map.fitted ? map.fitted->capacitance_f / decade : typical_least_f, every);
    map.resistance_ohm =
        e6_from(map.fitted && map.fitted->resistance_ohm > 0 ? map.fitted->resistance_ohm / decade
                                                             : typical_least_ohm,
                every);
    constexpr size_t uneven_candidates = 8;
    if (!alike && points.size() > uneven_candidates) points.resize(uneven_candidates);
    const size_t of_each = alike ? 4 : 3;
    points = hardest_at_corners(input, result, map, points, of_each);
    map.points = points.size();
    fill(input, result, points, map);
    return map;
}

}  // namespace ringquell::internal
