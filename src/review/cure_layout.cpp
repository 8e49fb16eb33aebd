#include <cmath>

#include "case/key.h"
#include "modes/effort.h"
#include "review/cure_values.h"
#include "ringquell/numbers.h"
#include "ringquell/vary.h"

namespace ringquell::internal {

namespace {

/// Numbers that may have any value in a range.
class FreeNumbers {
  public:
    FreeNumbers(const Case& input, std::vector<Move>& out) : in_(input), rules_(input), out_(out) {}

    void add() {
        layout();
        named();
    }

  private:
    void layout() {
        for (const std::string& key : layout_keys(in_)) {
            const auto number = find_number(in_, key);
            if (number.dimension != Dimension::inductance) continue;
            free_number(key);
            bool one = false;
            if (!is_position_number(key, one) || key.starts_with("device") ||
                in_.n() >= points_in_parallel_from)
                continue;
            // One position whose value is not that of most: it may be brought to the others.
            Values sorted = values_of(key);
            std::sort(sorted.begin(), sorted.end());
            const double middle = sorted[sorted.size() / 2];
            for (int k = 1; k <= in_.n(); ++k) {
                const std::string of_one = at_position(key, k);
                try {
                    if (values_of(of_one).front() != middle) free_number(of_one);
                } catch (const InputError&) {
                    continue;  // this position has not got it
                }
            }
        }
    }
    /// What `cure: may` names beside the usual.
    void named() {
        for (const auto& named : in_.cure.may) {
            const std::string& key = named.first;
            const auto same = [&](const Move& m) {
                return m.key == key || key.starts_with(m.key + ".") || m.key.starts_with(key + ".");
            };
            if (std::any_of(out_.begin(), out_.end(), same) || !cure_dimension(in_, key)) continue;
            try {
                find_number(in_, key);
            } catch (const InputError&) {
                continue;  // a part that this case has not got, and that is not offered here
            }
            free_number(key);
        }
    }
    Values values_of(const std::string& key) const {
        Values out;
        for (const double* v : find_number(in_, key).values) out.push_back(*v);
        return out;
    }
    /// A number that may have any value in its range.
    void free_number(const std::string& key) {
        if (!rules_.allowed(key)) return;
        const Values old = values_of(key);
        Values sorted = old;
        std::sort(sorted.begin(), sorted.end());
        const double now = sorted[sorted.size() / 2];
        const Dimension dimension = find_number(in_, key).dimension;
        const bool bought = key.starts_with("driver.") || key.starts_with("device.");
        Move move;
        move.key = key;
        move.what = key;
        move.effort = bought ? CureEffort::driver : CureEffort::layout;
        move.now = now;
        const double high = rules_.to(key, 2 * now), low = rules_.from(key, now / 2);
        if (!(high > 0)) return;
        const double typical = now > 0 ? now : high;
        const double cheapest = rules_.effort(key, move.effort);
        move.at = [key, old, dimension, typical, cheapest](double value) {
            double most = 0;
            for (const double o : old) most = std::max(most, octaves(o > 0 ? o : typical, value));
            Setting s;
            s.changes = {{key, old_text(old, dimension), setting_text(value, dimension)}};
            s.price = cheapest + most;
            s.apply = [key, value](Case& c) {
                for (double* v : find_number(c, key).values) *v = value;
            };
            return s;
        };
        constexpr double per_octave = 8, farthest = 1024;
        const double least = std::max(low, high / farthest);
        const int steps = std::max(2, static_cast<int>(std::ceil(per_octave * std::log2(high / least))));
        for (int k = 0; k <= steps; ++k) {
            const double value = rounded(least * std::pow(high / least, static_cast<double>(k) / steps));
            if (value < low || value > high) continue;
            add_value(move, value, old, is_coarse(static_cast<size_t>(k)) || k == steps);
        }
        if (sorted.front() != sorted.back()) add_value(move, now, old, true);
        out_.push_back(std::move(move));
    }
    static void add_value(Move& move, double value, const Values& old, bool coarse) {
        constexpr double same = 1e-6;
        if (std::all_of(old.begin(), old.end(), [&](double o) { return std::abs(value - o) <= same * o; }))
            return;
        move.settings.push_back(move.at(value));
        move.settings.back().coarse = coarse;
        move.values.push_back(value);
    }

    const Case& in_;
    MoveRules rules_;
    std::vector<Move>& out_;
};

}  // namespace

void add_free_numbers(const Case& input, std::vector<Move>& moves) {
    FreeNumbers(input, moves).add();
}

}  // namespace ringquell::internal
