#include "sizing/window_search.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

#include "modes/ranking.h"
#include "sizing/window_sample.h"

namespace ringquell::internal {

namespace {

/// Between two neighbouring candidates.
struct Interval {
    double low = 0, high = 0;
    bool acceptable = false, unsure = false;
    std::vector<Sample> within;  // where kinds may change in between: what was seen there
    double middle() const { return 0.5 * (low + high); }
    bool begins_acceptable() const { return within.empty() ? acceptable : within.front().acceptable(); }
    bool ends_acceptable() const { return within.empty() ? acceptable : within.back().acceptable(); }
};

class WindowSearch {
  public:
    WindowSearch(const Search& search, int& evaluations) : search_(search), sampler_(search, evaluations) {}

    Searched run() {
        if (search_.candidates)
            by_candidates();
        else
            adaptively();
        if (!sampler_.failure().empty()) not_complete(sampler_.failure());
        return {std::move(windows_), search_.candidates && why_not_.empty(), std::move(why_not_)};
    }

  private:
    void not_complete(const std::string& why) {
        if (why_not_.empty()) why_not_ = why;
    }

    Sample sample(double value, bool look_closer = true) { return sampler_.at(value, look_closer); }

    /// Between `low` and `high` nothing is sure. A stretch that is no wider than the ends are precise is no
    /// matter.
    void doubt(double low, double high) {
        constexpr double matters = 1e-6;
        if (high - low <= matters * high) return;
        not_complete(
            fmt::format("at \"{}\" the damping differs from its target by less than its numerical "
                        "uncertainty, {:.1e}, over a range of values, in which no bound was drawn",
                        search_.point, sampler_.worst_doubt()));
    }

    // ---- the answer ---------------------------------------------------------------------------------------

    /// Why the side `bad` is not acceptable while `good`, close to it, is.
    Bound reason(const Sample& good, const Sample& bad) const {
        if (bad.mode == nullptr) return Bound::damping;
        const Mode* twin = nearest_to(good.modes, bad.mode->eigenvalue);
        if (twin == nullptr) return Bound::damping;
        const bool misses_damping =
            rings_in_band(*bad.mode, *search_.require) && damping_margin(*bad.mode, *search_.require) < 0;
        if (grows(*bad.mode) && !grows(*twin)) return Bound::growth;
        if (misses_damping && !rings_in_band(*twin, *search_.require)) return Bound::band;
        if (twin->kind != bad.mode->kind) return Bound::share;
        return Bound::damping;
    }

    void open(double value, Bound bound) {
        windows_.push_back(
            {value, value, bound, Bound::limit, bound == Bound::limit ? std::string() : search_.point, {}});
    }
    void close(double value, Bound bound) {
        windows_.back().high = value;
        windows_.back().high_bound = bound;
        windows_.back().high_point = bound == Bound::limit ? std::string() : search_.point;
    }

    // ---- search by candidates -----------------------------------------------------------------------------

    void by_candidates() {
        std::vector<double> ends{search_.low};
        constexpr double same = 1e-9;  // candidates closer than this share are one
        for (double c : *search_.candidates)
            if (c > ends.back() * (1 + same) && c > search_.low && c < search_.high) ends.push_back(c);
        ends.push_back(search_.high);
        std::vector<Interval> intervals;
        for (size_t i = 0; i + 1 < ends.size(); ++i) intervals.push_back(interval(ends[i], ends[i + 1]));
        settle_doubt(intervals);
        bool inside = false;
        for (size_t i = 0; i < intervals.size(); ++i) {
            const Interval& here = intervals[i];
            if (here.begins_acceptable() != inside) {
                if (i == 0)
                    open(here.low, Bound::limit);
                else
                    change_between(intervals[i - 1], here);
            }
            for (size_t k = 0; k + 1 < here.within.size(); ++k) refine(here.within[k], here.within[k + 1], 0);
            inside = here.ends_acceptable();
        }
        if (inside) close(search_.high, Bound::limit);
    }

    Interval interval(double low, double high) {
        Interval out{low, high, false, false, {}};
        const Sample middle = sample(out.middle());
        out.acceptable = middle.acceptable();
        out.unsure = middle.unsure;
        if (!out.unsure && need_decides(middle)) {
            follow_need(out);
            return out;
        }
        if (out.unsure || !search_.kinds_move || !any_misses(middle)) return out;
        std::vector<Sample> within = across(low, high);
        if (steady(within)) return out;
        not_complete(fmt::format(
            "a mode at \"{}\" is neither differential nor common near an end, which was found by sampling",
            search_.point));
        std::erase_if(within, [](const Sample& s) { return s.unsure; });
        out.within = std::move(within);
        return out;
    }

    /// Between two candidates, which hold the rays of both dampings, the same modes lie between the two; only
    /// where one does, and nothing fails anyway, has the gain's part a say.
    bool need_decides(const Sample& s) const {
        const Requirement& require = *search_.require;
        if (!require.passive_damping) return false;
        bool between = false;
        for (const Mode& mode : s.modes) {
            const bool differential = mode.kind == ModeKind::differential;
            if (!differential && !search_.common_too) continue;
            if (grows(mode)) return false;
            if (!rings_in_band(mode, require)) continue;
            const double least = differential
                                     ? std::min(*require.passive_damping, require.differential_damping)
                                     : damping_target(mode, require);
            if (mode.damping_ratio() < least) return false;
            between = between || (differential && mode.damping_ratio() < require.differential_damping);
        }
        return between;
    }

    /// The need moves with the value, so that its ends are no candidates: sampled, both ends of the interval
    /// closely.
    void follow_need(Interval& interval) {
        constexpr int parts = 24;
        constexpr double beside = 1e-6;
        not_complete(
            fmt::format("at \"{}\" a mode lies between `passive_damping` and `differential_damping`, where "
                        "what it needs moves with its gain's part in the power balance and was followed by "
                        "sampling",
                        search_.point));
        for (int k = 0; k <= parts; ++k) {
            const double share = std::clamp(static_cast<double>(k) / parts, beside, 1 - beside);
            Sample here = sample(interval.low + share * (interval.high - interval.low));
            if (!here.unsure) interval.within.push_back(std::move(here));
        }
    }

    /// What is within rounding goes with its neighbours where these agree, else it is not acceptable.
    void settle_doubt(std::vector<Interval>& intervals) {
        for (size_t first = 0; first < intervals.size(); ++first) {
            if (!intervals[first].unsure) continue;
            size_t last = first;
            while (last + 1 < intervals.size() && intervals[last + 1].unsure) ++last;
            const bool at_begin = first == 0, at_end = last + 1 == intervals.size();
            const bool before = at_begin || intervals[first - 1].ends_acceptable();
            const bool after = at_end || intervals[last + 1].begins_acceptable();
            for (size_t k = first; k <= last; ++k)
                intervals[k].acceptable = before && after && !(at_begin && at_end);
            doubt(intervals[first].low, intervals[last].high);
            first = last;
        }
    }

    /// Between two neighbours the answer changes: at the candidate, if it does so close by.
    void change_between(const Interval& left, const Interval& right) {
        const double at = right.low;
        const bool opens = right.begins_acceptable();
        const double gap = std::min(left.high - left.low, right.high - right.low);
        constexpr double close_by = 1e-5, precise = 1e-7;
        const double step = std::min(std::max(close_by * gap, precise * at), 0.25 * gap);
        const Sample below = sample(at - step, false), above = sample(at + step, false);
        const bool as_expected = above.acceptable() == opens && below.acceptable() != opens;
        if (!as_expected && step >= precise * at && !left.unsure && !right.unsure && left.within.empty() &&
            right.within.empty()) {
            // The eigenvalue problem gave the bound inaccurately.
            const Sample a = sample(left.middle()), b = sample(right.middle());
            if (a.acceptable() != opens && b.acceptable() == opens) {
                bisect(a, b);
                const double found = opens ? windows_.back().low : windows_.back().high;
                constexpr double still_good = 1e-5;
                if (std::abs(found - at) > still_good * at)
                    not_complete(fmt::format(
                        "the eigenvalue problem of the bounds is ill conditioned at \"{}\", so that an end "
                        "was found by sampling",
                        search_.point));
                return;
            }
        }
        Bound bound = Bound::damping;
        if (as_expected) bound = opens ? reason(above, below) : reason(below, above);
        if (opens)
            open(at, bound);
        else
            close(at, bound);
    }

    /// Between two candidates the same modes miss the target of a kind. Only where there is one can a change
    /// of kind change the answer.
    bool misses_as_either_kind(const Mode& mode) const {
        const double common = search_.common_too ? search_.require->common_damping.value_or(0) : 0;
        return grows(mode) ||
               (rings_in_band(mode, *search_.require) &&
                mode.damping_ratio() < std::max(common, search_.require->differential_damping));
    }
    bool any_misses(const Sample& s) const {
        return std::any_of(s.modes.begin(), s.modes.end(),
                           [&](const Mode& m) { return misses_as_either_kind(m); });
    }
    /// Close to the ends, too: a wide interval may hold a change of kind beside one of them.
    std::vector<Sample> across(double low, double high) {
        std::vector<Sample> out;
        for (const double share : {1e-4, 0.02, 0.25, 0.5, 0.75, 0.98, 0.9999})
            out.push_back(sample(low + share * (high - low)));
        return out;
    }
    /// The same answer everywhere, and no mode that misses comes near to being of the other kind.
    bool steady(const std::vector<Sample>& samples) const {
        const auto sure =
            std::find_if(samples.begin(), samples.end(), [](const Sample& s) { return !s.unsure; });
        return std::all_of(samples.begin(), samples.end(), [&](const Sample& s) {
            return s.unsure || (s.acceptable() == sure->acceptable() &&
                                std::none_of(s.modes.begin(), s.modes.end(), [&](const Mode& m) {
                                    return misses_as_either_kind(m) && m.mixed();
                                }));
        });
    }

    // ---- adaptive search ----------------------------------------------------------------------------------

    static constexpr double resolution = 1e-6;  // of an end, in the parameter's unit times unit()
    void adaptively() {
        // Modes move fastest at small values; the first grid is geometric, refined where the margin is not
        // understood.
        constexpr std::array shares{0.0, 0.01, 0.03, 0.08, 0.17, 0.34, 0.6, 1.0};
        const double width = search_.high - search_.low;
        std::optional<Sample> left;  // the last that is sure
        double unsure_from = search_.low;
        for (const double share : shares) {
            Sample here = sample(search_.low + share * width);
            if (here.unsure) continue;
            if (!left) {
                doubt(search_.low, here.value);
                if (here.acceptable()) open(search_.low, Bound::limit);
            } else {
                refine(*left, here, 0);
            }
            unsure_from = here.value;
            left = std::move(here);
        }
        doubt(unsure_from, search_.high);
        if (left && left->acceptable()) close(search_.high, Bound::limit);
    }

    double slope(const Sample& s) const {
        if (s.mode == nullptr || !s.mode->oscillates() || !search_.damping_slope) return 0;
        try {
            return search_.require->passive_damping ? slope_of_margin(s)
                                                    : search_.damping_slope(s.value, *s.mode);
        } catch (const NumericalError&) {
            return std::numeric_limits<double>::infinity();  // not understood: split
        }
    }

    /// Where the need moves, too.
    double slope_of_margin(const Sample& s) const {
        const double step = 1e-6 * (search_.high - search_.low);
        const std::vector<Mode> beside = search_.modes_at(s.value + step);
        const Mode* twin = nearest_to(beside, s.mode->eigenvalue);
        if (twin == nullptr) return 0;
        return (damping_margin(*twin, *search_.require) - damping_margin(*s.mode, *search_.require)) / step;
    }

    void refine(const Sample& left, const Sample& right, int depth) {
        const double width = right.value - left.value;
        constexpr int deepest = 12;
        const bool small = width <= 1e-4 * (search_.high - search_.low) || depth >= deepest;
        if (left.acceptable() != right.acceptable()) {
            if (depth < 2) return split(left, right, depth);
            return bisect(left, right);
        }
        if (small || (std::isinf(left.margin) && std::isinf(right.margin))) return;
        // Could the margin change its sign in between? The cubic through both ends with their slopes says
        // where its extreme is.
        if (std::isfinite(left.margin) && std::isfinite(right.margin)) {
            const double a = slope(left) * width, b = slope(right) * width;
            const double sign = left.acceptable() ? 1 : -1;
            double least = std::min(sign * left.margin, sign * right.margin);
            const double scale = least;
            for (double t = 0.1; t < 0.95; t += 0.1) {
                const double h = (1 + 2 * t) * (1 - t) * (1 - t) * left.margin +
                                 t * t * (3 - 2 * t) * right.margin + t * (1 - t) * (1 - t) * a -
                                 t * t * (1 - t) * b;
                least = std::min(least, sign * h);
            }
            const double middle = 0.5 * (left.margin + right.margin) + 0.125 * (a - b);
            const bool tame = least > 0.5 * scale && std::abs(a) + std::abs(b) <
                                                         2 * scale + 4 * std::abs(left.margin - right.margin);
            if (tame && std::abs(middle - 0.5 * (left.margin + right.margin)) < 0.25 * scale) return;
        }
        split(left, right, depth);
    }

    void split(const Sample& left, const Sample& right, int depth) {
        const Sample middle = sample(0.5 * (left.value + right.value));
        if (middle.unsure) {
            doubt(left.value, right.value);
            if (left.acceptable() != right.acceptable()) bisect(left, right);
            return;
        }
        refine(left, middle, depth + 1);
        refine(middle, right, depth + 1);
    }

    void bisect(Sample left, Sample right) {
        const bool opens = right.acceptable();
        bool use_secant = true;
        while (right.value - left.value > resolution * unit()) {
            double at = 0.5 * (left.value + right.value);
            const double drop = right.margin - left.margin;
            if (use_secant && std::isfinite(drop) && drop != 0) {
                // Regula falsi, kept a little inside so that both ends close in.
                const double share = std::clamp(-left.margin / drop, 0.02, 0.98);
                at = left.value + share * (right.value - left.value);
            }
            use_secant = !use_secant;
            Sample middle = sample(at, false);
            if (middle.acceptable() == left.acceptable())
                left = std::move(middle);
            else
                right = std::move(middle);
        }
        if (opens)
            open(right.value, reason(right, left));
        else
            close(left.value, reason(left, right));
    }
    double unit() const {
        const double size =
            std::max(std::abs(search_.low), std::abs(search_.high));  // a coefficient may be negative
        return size > 1e-3 ? 1.0 : size * 1e-2;
    }

    const Search& search_;
    Sampler sampler_;
    std::vector<Window> windows_;
    std::string why_not_;  // the answer is not complete
};

}  // namespace

Searched search_windows(const Search& search, int& evaluations) {
    return WindowSearch(search, evaluations).run();
}

void narrow(Acceptable& answer, Search search, double least_width) {
    std::vector<Window> left;
    for (const Window& window : answer.windows) {
        if (window.high - window.low < least_width) continue;
        search.low = window.low;
        search.high = window.high;
        Searched found = search_windows(search, answer.evaluations);
        if (!found.complete) {
            answer.complete = false;
            if (answer.why_not_complete.empty()) answer.why_not_complete = found.why_not_complete;
        }
        for (Window& w : found.windows) {
            if (w.low == window.low) w.low_bound = window.low_bound, w.low_point = window.low_point;
            if (w.high == window.high) w.high_bound = window.high_bound, w.high_point = window.high_point;
            left.push_back(w);
        }
    }
    answer.windows = std::move(left);
}

double slope_by_difference(const ModesAt& modes_at, double value, const Mode& mode, double step) {
    const std::vector<Mode> beside = modes_at(value + step);
    const Mode* twin = nearest_to(beside, mode.eigenvalue);
    return twin == nullptr ? 0 : (twin->damping_ratio() - mode.damping_ratio()) / step;
}

}  // namespace ringquell::internal
