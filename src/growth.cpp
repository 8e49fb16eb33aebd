#include "ringquell/growth.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "ringquell/switching.h"

namespace ringquell {

double growth_exponent(const std::vector<double>& at_s,
                       const std::vector<std::optional<double>>& sigma_per_s) {
    double running = 0, most = 0;
    const auto pass = [&](double exponent) {
        running = std::max(0.0, running + exponent);
        most = std::max(most, running);
    };
    const auto along = [&](double before, double here, double time) {
        if (before * here >= 0) return pass(0.5 * (before + here) * time);
        const double zero = before / (before - here) * time;  // where the line crosses zero
        pass(0.5 * before * zero);
        pass(0.5 * here * (time - zero));
    };
    for (size_t k = 0; k < at_s.size(); ++k) {
        if (!sigma_per_s[k])
            running = 0;
        else if (k > 0 && sigma_per_s[k - 1])
            along(*sigma_per_s[k - 1], *sigma_per_s[k], at_s[k] - at_s[k - 1]);
        else if (k == 0 && at_s[0] > 0) {
            const double first = *sigma_per_s[0];
            double begin = first;
            if (at_s.size() > 1 && sigma_per_s[1])
                begin = std::min(first, first - (*sigma_per_s[1] - first) / (at_s[1] - at_s[0]) * at_s[0]);
            along(begin, first, at_s[0]);
        }
    }
    return most;
}

double PassingGrowth::factor() const {
    return std::exp(exponent);
}

PassingGrowths passing_growth(const Case& input, const std::vector<OperatingPoint>& points,
                              const std::vector<bool>& grows, const Families& families) {
    PassingGrowths out;
    if (std::find(grows.begin(), grows.end(), true) == grows.end()) return out;
    if (!families.not_followed.empty()) {
        out.notes.push_back(families.not_followed);
        return out;
    }
    std::map<Edge, SwitchingEstimate> estimates;
    for (size_t first = 0; first < points.size();) {
        size_t end = first + 1;
        const auto same = [&](const OperatingPoint& p) {
            return p.stage == points[first].stage &&
                   p.junction_temperature_degc == points[first].junction_temperature_degc;
        };
        while (end < points.size() && same(points[end])) ++end;
        const std::vector<OperatingPoint> stage(points.begin() + static_cast<std::ptrdiff_t>(first),
                                                points.begin() + static_cast<std::ptrdiff_t>(end));
        const size_t begin = first;
        first = end;
        if (std::none_of(grows.begin() + static_cast<std::ptrdiff_t>(begin),
                         grows.begin() + static_cast<std::ptrdiff_t>(end), [](bool g) { return g; }))
            continue;
        const Edge edge = stage.front().edge;
        if (!estimates.contains(edge)) estimates.emplace(edge, estimate_switching(input, points, edge));
        std::string why;
        const auto times = stage_times(input, stage, estimates.at(edge), why);
        if (!times) {
            if (std::find(out.notes.begin(), out.notes.end(), why) == out.notes.end())
                out.notes.push_back(why);
            continue;
        }
        for (const Family& family : families.families) {
            std::vector<std::optional<double>> sigma;
            double peak = 0;
            for (size_t p = begin; p < end; ++p) {
                sigma.push_back(family.eigenvalues[p] ? std::optional(family.eigenvalues[p]->real())
                                                      : std::nullopt);
                if (sigma.back()) peak = std::max(peak, *sigma.back());
            }
            const double exponent = growth_exponent(times->at_s, sigma);
            if (exponent > 0)
                out.list.push_back({stage.front().stage, stage.front().junction_temperature_degc, family.name,
                                    exponent, times->total_s, peak, times->estimated, stage.front().judged});
        }
    }
    std::stable_sort(out.list.begin(), out.list.end(),
                     [](const PassingGrowth& a, const PassingGrowth& b) { return a.exponent > b.exponent; });
    return out;
}

}  // namespace ringquell
