#include "modes/mode_links.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "modes/ranking.h"

namespace ringquell::internal {

bool matters(const ModeVector& mode, const Requirement& require) {
    const Mode m{mode.eigenvalue, mode.kind, 1, 1};
    return grows(m) || rings_in_band(m, require);
}

namespace {

double distance(const ModeVector& a, const ModeVector& b) {
    return std::abs(a.eigenvalue - b.eigenvalue) / std::max(std::abs(a.eigenvalue), std::abs(b.eigenvalue));
}

bool may_be_same(const ModeVector& a, const ModeVector& b) {
    return a.kind == b.kind || !a.kind_fixed || !b.kind_fixed;
}

class Linker {
  public:
    Linker(const std::vector<ModeVector>& left, const std::vector<ModeVector>& right,
           const Requirement& require)
        : left_(left), right_(right), require_(require), from_(right.size()) {
        out_.to.resize(left.size());
    }

    Links run() {
        assign(true);
        become_real();
        become_oscillating();
        assign(false);
        for (size_t i = 0; i < left_.size(); ++i)
            if (!out_.to[i] && matters(left_[i], require_)) out_.ambiguous = true;
        for (size_t j = 0; j < right_.size(); ++j)
            if (!from_[j] && matters(right_[j], require_)) out_.ambiguous = true;
        return std::move(out_);
    }

  private:
    /// Likeness of shape and eigenvalue, 0 to 1; 0: cannot be the same.
    double likeness(const ModeVector& a, const ModeVector& b) const {
        constexpr double least_overlap = 0.3, most_distance = 0.5, scale = 0.1;
        if (!may_be_same(a, b) || a.oscillates() != b.oscillates()) return 0;
        const double d = distance(a, b), o = overlap(a, b);
        if (d > most_distance || o < least_overlap) return 0;
        return o / (1 + d / scale);
    }

    void assign(bool oscillating) {
        struct Pair {
            double likeness;
            size_t i, j;
        };
        std::vector<Pair> pairs;
        for (size_t i = 0; i < left_.size(); ++i)
            for (size_t j = 0; j < right_.size(); ++j) {
                if (left_[i].oscillates() != oscillating || out_.to[i] || from_[j]) continue;
                if (const double l = likeness(left_[i], right_[j]); l > 0) pairs.push_back({l, i, j});
            }
        std::stable_sort(pairs.begin(), pairs.end(),
                         [](const Pair& a, const Pair& b) { return a.likeness > b.likeness; });
        for (const Pair& p : pairs) {
            if (out_.to[p.i] || from_[p.j]) continue;
            out_.to[p.i] = p.j;
            from_[p.j] = p.i;
            if (matters(left_[p.i], require_) || matters(right_[p.j], require_)) judge(pairs, p);
        }
    }

    /// Is another nearly as good, and not merely equal?
    template <class Pairs, class Pair>
    void judge(const Pairs& pairs, const Pair& p) {
        constexpr double clear = 0.97, rival = 0.6, equal = 1e-6, wide = 0.15;
        if (distance(left_[p.i], right_[p.j]) > wide) out_.ambiguous = true;
        if (overlap(left_[p.i], right_[p.j]) >= clear) return;
        for (const auto& q : pairs) {
            if ((q.i == p.i) == (q.j == p.j) || q.likeness < rival * p.likeness) continue;
            const bool twin = q.i == p.i ? distance(right_[q.j], right_[p.j]) < equal
                                         : distance(left_[q.i], left_[p.i]) < equal;
            if (!twin) out_.ambiguous = true;
        }
    }

    /// The two free real modes of a list that lie closest to a pair; empty where there are none.
    template <class Free>
    std::optional<std::array<size_t, 2>> two_real(const std::vector<ModeVector>& list, const ModeVector& pair,
                                                  Free&& free) const {
        constexpr double most_distance = 0.9;
        std::vector<std::pair<double, size_t>> near;
        for (size_t k = 0; k < list.size(); ++k)
            if (!list[k].oscillates() && free(k) && may_be_same(list[k], pair)) {
                const double d = distance(list[k], pair);
                if (d < most_distance) near.emplace_back(d, k);
            }
        if (near.size() < 2) return std::nullopt;
        std::partial_sort(near.begin(), near.begin() + 2, near.end());
        std::array<size_t, 2> out{near[0].second, near[1].second};
        if (list[out[0]].eigenvalue.real() < list[out[1]].eigenvalue.real()) std::swap(out[0], out[1]);
        return out;
    }

    /// A pair is about to meet the axis only if it is nearly there, or went there in one wide step: then
    /// halve.
    void become_real() {
        for (size_t i = 0; i < left_.size(); ++i) {
            if (!left_[i].oscillates() || out_.to[i]) continue;
            const auto two = two_real(right_, left_[i], [&](size_t j) { return !from_[j]; });
            if (!two) continue;
            out_.to[i] = (*two)[0];
            from_[(*two)[0]] = from_[(*two)[1]] = i;
            if (matters(left_[i], require_) && !close_to_axis(left_[i])) out_.ambiguous = true;
        }
    }

    void become_oscillating() {
        for (size_t j = 0; j < right_.size(); ++j) {
            if (!right_[j].oscillates() || from_[j]) continue;
            const auto two = two_real(left_, right_[j], [&](size_t i) { return !out_.to[i]; });
            if (!two) continue;
            out_.to[(*two)[0]] = out_.to[(*two)[1]] = j;
            from_[j] = (*two)[0];
            if (matters(right_[j], require_) && !close_to_axis(right_[j])) out_.ambiguous = true;
        }
    }

    static bool close_to_axis(const ModeVector& m) {
        return m.eigenvalue.imag() < 0.3 * std::abs(m.eigenvalue);
    }

    const std::vector<ModeVector>& left_;
    const std::vector<ModeVector>& right_;
    const Requirement& require_;
    std::vector<std::optional<size_t>> from_;
    Links out_;
};

}  // namespace

Links link_modes(const std::vector<ModeVector>& left, const std::vector<ModeVector>& right,
                 const Requirement& require) {
    return Linker(left, right, require).run();
}

Links LinkRefiner::link(const std::vector<ModeVector>& left, const std::vector<ModeVector>& right,
                        const Stretch& step) {
    constexpr int most_halvings_of_a_step = 10;
    Links direct = link_modes(left, right, require_);
    if (!direct.ambiguous || step.halved == most_halvings_of_a_step) return direct;
    ++halvings_;
    const double middle = 0.5 * (step.from + step.to);
    const std::vector<ModeVector> modes = between_(middle);
    const Links first = link(left, modes, {step.from, middle, step.halved + 1});
    const Links second = link(modes, right, {middle, step.to, step.halved + 1});
    Links out;
    out.ambiguous = first.ambiguous || second.ambiguous;
    for (const auto& m : first.to) out.to.push_back(m ? second.to[*m] : std::nullopt);
    return out;
}

}  // namespace ringquell::internal
