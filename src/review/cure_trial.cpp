#include "review/cure_trial.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <thread>

#include "devices/gate_current.h"
#include "modes/effort.h"
#include "modes/ranking.h"
#include "ringquell/spread.h"

namespace ringquell::internal {

namespace {

/// So many of a walk's steps show whether too much grows in passing, before it is confirmed.
constexpr int rough_steps = 8;
/// 95 % of all boards, with 95 % confidence (Wilks 1941).
constexpr std::int64_t samples = 59;

/// ζ less what is asked of it; a mode that grows falls short of the damping of its kind.
double margin(const Mode& mode, const Requirement& require) {
    if (grows(mode) && !rings_in_band(mode, require))
        return mode.damping_ratio() - require.differential_damping;
    return damping_margin(mode, require);
}

/// The hardest points of each stage.
std::vector<size_t> hard_points(const std::vector<OperatingPoint>& points,
                                const std::vector<double>& margins) {
    std::vector<size_t> order(points.size()), out;
    std::iota(order.begin(), order.end(), size_t{0});
    std::stable_sort(order.begin(), order.end(), [&](size_t a, size_t b) { return margins[a] < margins[b]; });
    constexpr int most_of_stage = 2;
    for (const size_t i : order) {
        const auto of_stage = std::count_if(out.begin(), out.end(), [&](size_t k) {
            return points[k].stage == points[i].stage && points[k].variant == points[i].variant;
        });
        if (of_stage < most_of_stage && margins[i] < 0) out.push_back(i);
    }
    return out;
}

}  // namespace

CheckOptions verdict_alone() {
    CheckOptions out;
    out.size_gate_resistor = out.follow_modes = out.gain_margin = false;
    return out;
}

double price_of(const Changes& changes) {
    double out = 0;
    for (const Setting* s : changes) out += s->price;
    return out;
}

Case changed(const Case& input, const Changes& changes) {
    Case out = input;
    for (const Setting* s : changes) s->apply(out);
    return out;
}

CureTrial::CureTrial(const Case& input, const CheckResult& before)
    : input_(input), trial_(input), bias_moves_(has_saturating_bead(input)) {
    std::vector<double> margins;
    for (const size_t i : distinct_points(before.points, judged_held)) {
        const PointResult& r = before.points[i];
        double least = 1;
        for (const Mode& m : r.modes.modes)
            if (grows(m) || rings_in_band(m, input.require))
                least = std::min(least, margin(m, input.require));
        margins.push_back(least);
        points_.push_back(r.point);
        // Unknowns of a whole network that costs what two blocks do, and how its cost grows, as measured from 88 to 700.
        constexpr double as_dear = 60, power = 2.4;
        if (!r.modes.by_blocks()) weight_ = std::max(1.0, std::pow(r.modes.unknowns / as_dear, power));
    }
    for (const PointResult& r : before.points)
        if (std::find(edges_.begin(), edges_.end(), r.point.edge) == edges_.end())
            edges_.push_back(r.point.edge);
    order_.resize(points_.size());
    std::iota(order_.begin(), order_.end(), size_t{0});
    std::stable_sort(order_.begin(), order_.end(),
                     [&](size_t a, size_t b) { return margins[a] < margins[b]; });
    hard_ = hard_points(points_, margins);
    fails_in_passing_ = !all_pass(before.passages.passages);
}

void CureTrial::apply(const Changes& changes) {
    trial_.change_network([&](Case& c) {
        c = input_;
        for (const Setting* s : changes) s->apply(c);
        bias_moves_ = has_saturating_bead(c);
    });
}

bool CureTrial::point_passes(size_t point) {
    ++networks_;
    const auto modes = bias_moves_ ? trial_.modes(with_own_gate_current(trial_.input(), points_[point]))
                                   : trial_.modes(points_[point]);
    return std::none_of(modes.modes.begin(), modes.modes.end(),
                        [&](const Mode& m) { return misses(m, input_.require); });
}

bool CureTrial::passes(const Changes& changes, std::optional<Edge> edge) {
    try {
        apply(changes);
        for (size_t k = 0; k < order_.size(); ++k) {
            const size_t point = order_[k];
            if ((edge && points_[point].edge != *edge) || point_passes(point)) continue;
            std::rotate(order_.begin(), order_.begin() + static_cast<std::ptrdiff_t>(k),
                        order_.begin() + static_cast<std::ptrdiff_t>(k) + 1);
            return false;
        }
        return !fails_in_passing_ || passages_pass(changes, edge);
    } catch (const InputError&) {
        return false;
    } catch (const NumericalError&) {
        return false;
    }
}

bool CureTrial::passages_pass(const Changes& changes, std::optional<Edge> edge) const {
    Case rough = changed(input_, changes);
    if (rough.operation.path)
        rough.operation.path->steps = std::min(rough.operation.path->steps, rough_steps);
    const CheckResult result = check(rough, verdict_alone());
    return std::all_of(result.passages.passages.begin(), result.passages.passages.end(),
                       [&](const Passage& p) { return p.passes() || (edge && p.edge != *edge); });
}

CureTrial::Missing CureTrial::missing(const Changes& changes) {
    Missing out{0, 1};
    try {
        apply(changes);
        for (const size_t point : hard_) {
            ++networks_;
            const auto& at = points_[point];
            for (const Mode& m :
                 trial_.modes(bias_moves_ ? with_own_gate_current(trial_.input(), at) : at).modes) {
                if (!grows(m) && !rings_in_band(m, input_.require)) continue;
                const double of_mode = margin(m, input_.require);
                out.least = std::min(out.least, of_mode);
                out.sum += std::max(0.0, -of_mode);
            }
        }
        return out;
    } catch (const InputError&) {
    } catch (const NumericalError&) {
    }
    constexpr double nothing_is_worse = 1e9;
    return {nothing_is_worse, -nothing_is_worse};
}

bool CureTrial::confirmed(const Changes& changes) {
    const Case cured = changed(input_, changes);
    try {
        networks_ += static_cast<std::int64_t>(points_.size());
        if (check(cured, verdict_alone()).verdict != Verdict::pass) return false;
        if (cured.spread.empty() || cured.n() >= no_samples_from) return true;
        SpreadOptions options;
        options.samples = samples;
        options.threads = static_cast<int>(std::max(1U, std::thread::hardware_concurrency()));
        constexpr std::int64_t as_fast = 10;  // samples are solved side by side
        networks_ += samples * static_cast<std::int64_t>(points_.size()) / as_fast;
        const SpreadResult drawn = spread(cured, options);
        return drawn.passed == drawn.samples;
    } catch (const InputError&) {
        return false;  // such a case cannot be
    } catch (const NumericalError&) {
        return false;
    }
}

}  // namespace ringquell::internal
