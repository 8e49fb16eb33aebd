// One parameter at one point: where its windows begin and end.
#include <algorithm>
#include <array>
#include <cmath>

#include "ringquell/acceptable.h"
#include "ringquell/check.h"

namespace ringquell {

const char* bound_name(Bound bound) {
    switch (bound) {
        case Bound::damping:
            return "damping";
        case Bound::band:
            return "band";
        case Bound::growth:
            return "growth";
        case Bound::share:
            return "share";
        case Bound::limit:
            return "limit";
    }
    return "";
}

namespace {

/// What is judged at one value: the least margin of the differential modes, and the mode that has it.
struct Sample {
    double value = 0;
    std::vector<Mode> modes;
    double margin = std::numeric_limits<double>::infinity();  // in damping ratio; negative: not acceptable
    const Mode* mode = nullptr;                               // into modes
    bool acceptable() const { return margin >= 0; }
};

class WindowSearch {
  public:
    WindowSearch(const Search& search, int& evaluations) : search_(search), evaluations_(evaluations) {}

    Searched run() {
        if (search_.candidates)
            by_candidates();
        else
            adaptively();
        return {std::move(windows_), search_.candidates && certain_};
    }

  private:
    Sample sample(double value) {
        ++evaluations_;
        Sample out;
        out.value = value;
        out.modes = search_.modes_at(value);
        for (const Mode& mode : out.modes) {
            if (mode.kind != ModeKind::differential && !search_.common_too) continue;
            double margin = std::numeric_limits<double>::infinity();
            if (grows(mode)) margin = -1e-9 + std::min(0.0, mode.damping_ratio());
            if (mode.oscillates() && in_band(mode, *search_.require))
                margin = std::min(margin, mode.damping_ratio() - damping_target(mode, *search_.require));
            if (margin < out.margin) {
                out.margin = margin;
                out.mode = &mode;
            }
        }
        return out;
    }

    /// Why the side `bad` is not acceptable while `good`, close to it, is.
    Bound reason(const Sample& good, const Sample& bad) const {
        if (bad.mode == nullptr) return Bound::damping;
        const std::complex<double> lambda = bad.mode->eigenvalue;
        const auto twin =
            std::min_element(good.modes.begin(), good.modes.end(), [&](const Mode& a, const Mode& b) {
                return std::abs(a.eigenvalue - lambda) < std::abs(b.eigenvalue - lambda);
            });
        if (twin == good.modes.end()) return Bound::damping;
        const bool bad_in_band = bad.mode->oscillates() && in_band(*bad.mode, *search_.require);
        const bool misses_damping =
            bad_in_band && bad.mode->damping_ratio() < damping_target(*bad.mode, *search_.require);
        if (grows(*bad.mode) && !grows(*twin)) return Bound::growth;
        if (misses_damping && !(twin->oscillates() && in_band(*twin, *search_.require))) return Bound::band;
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

    void by_candidates() {
        std::vector<double> ends{search_.low};
        constexpr double same = 1e-9;  // candidates closer than this share are one
        for (double c : *search_.candidates)
            if (c > ends.back() * (1 + same) && c > search_.low && c < search_.high) ends.push_back(c);
        ends.push_back(search_.high);
        bool inside = false;
        const auto becomes = [&](bool acceptable, size_t i) {
            if (acceptable && !inside) open(ends[i], i == 0 ? Bound::limit : bound_at(ends[i], ends, i));
            if (!acceptable && inside) close(ends[i], bound_at(ends[i], ends, i));
            inside = acceptable;
        };
        for (size_t i = 0; i + 1 < ends.size(); ++i) {
            const Sample middle = sample(0.5 * (ends[i] + ends[i + 1]));
            if (search_.kinds_move && any_misses(middle)) {
                const std::vector<Sample> within = across(ends[i], ends[i + 1]);
                if (!steady(within)) {
                    certain_ = false;
                    becomes(within.front().acceptable(), i);
                    for (size_t k = 0; k + 1 < within.size(); ++k) refine(within[k], within[k + 1], 0);
                    inside = within.back().acceptable();
                    continue;
                }
            }
            becomes(middle.acceptable(), i);
        }
        if (inside) close(search_.high, Bound::limit);
    }

    /// Between two candidates the same modes miss the target of a kind. Only where there is one can a change
    /// of kind change the answer.
    bool misses_as_either_kind(const Mode& mode) const {
        const double common = search_.common_too ? search_.require->common_damping.value_or(0) : 0;
        return grows(mode) ||
               (mode.oscillates() && in_band(mode, *search_.require) &&
                mode.damping_ratio() < std::max(common, search_.require->differential_damping));
    }
    bool any_misses(const Sample& s) const {
        return std::any_of(s.modes.begin(), s.modes.end(),
                           [&](const Mode& m) { return misses_as_either_kind(m); });
    }
    std::vector<Sample> across(double low, double high) {
        std::vector<Sample> out;
        for (const double share : {0.02, 0.25, 0.5, 0.75, 0.98})
            out.push_back(sample(low + share * (high - low)));
        return out;
    }
    /// The same answer everywhere, and no mode that misses comes near to being of the other kind.
    bool steady(const std::vector<Sample>& samples) const {
        return std::all_of(samples.begin(), samples.end(), [&](const Sample& s) {
            return s.acceptable() == samples.front().acceptable() &&
                   std::none_of(s.modes.begin(), s.modes.end(),
                                [&](const Mode& m) { return misses_as_either_kind(m) && m.mixed(); });
        });
    }

    /// Names the bound at ends[i] from two values close to it.
    Bound bound_at(double at, const std::vector<double>& ends, size_t i) {
        constexpr double close_by = 1e-5;
        const double step = close_by * std::min(ends[i] - ends[i - 1], ends[i + 1] - ends[i]);
        const Sample below = sample(at - step), above = sample(at + step);
        if (below.acceptable() == above.acceptable()) return Bound::damping;
        return below.acceptable() ? reason(below, above) : reason(above, below);
    }

    // ---- adaptive search ----------------------------------------------------------------------------------

    static constexpr double resolution = 1e-6;  // of an end, in the parameter's unit times unit_

    void adaptively() {
        // Modes move fastest at small values; the first grid is geometric, refined where the margin is not
        // understood.
        constexpr std::array shares{0.0, 0.01, 0.03, 0.08, 0.17, 0.34, 0.6, 1.0};
        const double width = search_.high - search_.low;
        Sample left = sample(search_.low);
        if (left.acceptable()) open(search_.low, Bound::limit);
        for (size_t i = 1; i < shares.size(); ++i) {
            Sample right = sample(search_.low + shares[i] * width);
            refine(left, right, 0);
            left = std::move(right);
        }
        if (left.acceptable()) close(search_.high, Bound::limit);
    }

    double slope(const Sample& s) const {
        if (s.mode == nullptr || !s.mode->oscillates() || !search_.damping_slope) return 0;
        return search_.damping_slope(s.value, *s.mode);
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
            Sample middle = sample(at);
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
    double unit() const { return std::max(1e-3, search_.high) > 1e-3 ? 1.0 : search_.high * 1e-2; }

    const Search& search_;
    int& evaluations_;
    std::vector<Window> windows_;
    bool certain_ = true;
};

}  // namespace

Searched search_windows(const Search& search, int& evaluations) {
    return WindowSearch(search, evaluations).run();
}

}  // namespace ringquell
