#include "ringquell/compare.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>

#include "case/coupling_names.h"
#include "case/key.h"
#include "modes/ranking.h"
#include "review/same_form.h"
#include "ringquell/error.h"
#include "ringquell/numbers.h"
#include "sizing/trial.h"

namespace ringquell {

using namespace internal;

namespace {

/// The cases between the two, and the least damping of each.
class Way {
  public:
    Way(const SameForm& form, ModeKind kind) : form_(form), kind_(kind), trial_(form.a) {
        trial_.change([&](Case& input) {
            for (const DifferentNumber& n : form_.numbers) numbers_.push_back(find_number(input, n.key));
        });
    }

    /// W(t); empty: nothing of that kind oscillates in the band.
    std::optional<double> least(double t) {
        move_all(t);
        const std::vector<OperatingPoint>& points = trial_.path().points;
        const std::vector<size_t> same = first_of_network(points, judged_held);
        std::optional<double> out;
        for (size_t i = 0; i < points.size(); ++i) {
            if (!points[i].judged || same[i] != i) continue;
            const std::vector<Mode> modes = trial_.modes(points[i]).modes;
            const Mode* mode = least_damped(modes, kind_, trial_.input().require);
            if (mode == nullptr || (out && mode->damping_ratio() >= *out)) continue;
            out = mode->damping_ratio();
            point_ = i;
            eigenvalue_ = mode->eigenvalue;
        }
        return out;
    }

    /// dW/dt at t, number by number; empty where W is.
    std::vector<double> slopes(double t) {
        if (!least(t)) return {};
        const size_t point = point_;
        const std::complex<double> eigenvalue = eigenvalue_;
        constexpr double small = 1e-4;
        const double step = small * std::min(t, 1 - t);
        std::vector<double> out;
        for (size_t k = 0; k < numbers_.size(); ++k) {
            const auto damping = [&](double at) {
                trial_.change([&](Case&) { move(k, at); });
                const std::vector<Mode> modes = trial_.modes(trial_.path().points[point]).modes;
                return nearest_to(modes, eigenvalue)->damping_ratio();
            };
            out.push_back((damping(t + step) - damping(t - step)) / (2 * step));
            trial_.change([&](Case&) { move(k, t); });
        }
        return out;
    }

  private:
    void move(size_t k, double t) {
        const DifferentNumber& n = form_.numbers[k];
        for (size_t i = 0; i < n.a.size(); ++i)
            *numbers_[k].values[i] = t == 1 ? n.b[i] : n.a[i] + t * (n.b[i] - n.a[i]);
    }
    void move_all(double t) {
        trial_.change([&](Case&) {
            for (size_t k = 0; k < numbers_.size(); ++k) move(k, t);
        });
    }

    const SameForm& form_;
    ModeKind kind_;
    Trial trial_;
    std::vector<Number> numbers_;  // of the trial's case
    size_t point_ = 0;
    std::complex<double> eigenvalue_;
};

/// ∫ dW/dt from 0 to 1, number by number. Gauss's two points in each piece, which is halved where their sum is
/// not the difference of W over it: where another mode becomes the least.
class Parts {
  public:
    Parts(Way& way, size_t count) : way_(way), parts_(count, 0.0) {}

    std::vector<double> integrate(double w0, double w1) {
        constexpr double least_scale = 1e-3;
        scale_ = std::max(std::abs(w1 - w0), least_scale);
        constexpr int pieces = 4;
        std::optional<double> left = w0;
        for (int i = 0; i < pieces; ++i) {
            const double t0 = static_cast<double>(i) / pieces, t1 = static_cast<double>(i + 1) / pieces;
            const std::optional<double> right = i + 1 == pieces ? w1 : way_.least(t1);
            add(t0, left, t1, right, 0);
            left = right;
        }
        return parts_;
    }

  private:
    void add(double t0, const std::optional<double>& w0, double t1, const std::optional<double>& w1,
             int depth) {
        constexpr int deepest = 11, most_pieces = 600;
        constexpr double tolerance = 2e-3;  // of the whole difference, over the whole way
        const double half = (t1 - t0) / 2, middle = t0 + half;
        std::vector<double> sum(parts_.size(), 0.0);
        double total = 0;
        bool known = w0 && w1;
        for (const double at : {middle - half / std::numbers::sqrt3, middle + half / std::numbers::sqrt3}) {
            const std::vector<double> slopes = way_.slopes(at);
            known = known && !slopes.empty();
            for (size_t k = 0; k < slopes.size(); ++k) {
                sum[k] += half * slopes[k];
                total += half * slopes[k];
            }
        }
        const bool close = known && std::abs(total - (*w1 - *w0)) <= tolerance * scale_ * (t1 - t0);
        if (close || depth == deepest || ++pieces_ > most_pieces) {
            // What remains at the end is a jump: no number's part.
            constexpr double of_a_kink = 0.1;
            if (close || (known && std::abs(total - (*w1 - *w0)) <= of_a_kink * tolerance * scale_))
                for (size_t k = 0; k < sum.size(); ++k) parts_[k] += sum[k];
            return;
        }
        const std::optional<double> between = way_.least(middle);
        add(t0, w0, middle, between, depth + 1);
        add(middle, between, t1, w1, depth + 1);
    }

    Way& way_;
    std::vector<double> parts_;
    double scale_ = 1;
    int pieces_ = 0;
};

std::string values_text(const std::vector<double>& values, Dimension dimension) {
    const auto [low, high] = std::minmax_element(values.begin(), values.end());
    const std::string least = engineering(*low, dimension, 4);
    return *low == *high ? least : least + " to " + engineering(*high, dimension, 4);
}

/// As the case itself has it: what was lent to it is absent.
std::string text_in(const Case& input, const DifferentNumber& number, const std::vector<double>& values) {
    // Couplings have another order here than in the case; an absent one couples nothing.
    if (number.key.starts_with("couplings["))
        return values.front() == 0 ? "absent" : values_text(values, number.dimension);
    try {
        find_number(input, number.key);
    } catch (const InputError&) {
        return "absent";
    }
    return values_text(values, number.dimension);
}

/// `couplings[gate_path, source_path].coefficient`: the numbers of couplings are not those of either case.
std::string told_key(const std::string& key, const SameForm& form) {
    if (!key.starts_with("couplings[")) return key;
    const std::vector<KeyPart> parts = split_key(key, {});
    const Coupling& c = form.a.couplings[static_cast<size_t>(*parts.front().index - 1)];
    return fmt::format("couplings[{}, {}].{}", written(c.first), written(c.second), parts.back().name);
}

/// Of each value that the key names, its position; empty where it is of none.
std::vector<int> positions_of(const Case& input, const std::string& key) {
    std::vector<int> out;
    bool one = false;
    if (!is_position_number(key, one)) return out;
    for (int k = 1; k <= input.n(); ++k) {
        try {
            out.insert(out.end(), find_number(input, at_position(key, k)).values.size(), k);
        } catch (const InputError&) {
            // This position has no such value.
        }
    }
    return out;
}

ComparedInput compared(const Case& a, const Case& b, const SameForm& form, const DifferentNumber& n) {
    ComparedInput out{told_key(n.key, form), {}, text_in(a, n, n.a), text_in(b, n, n.b), {}};
    const std::vector<int> owners = positions_of(form.a, n.key);
    if (a.n() < 2 || owners.size() != n.a.size()) return out;
    std::vector<double> from, to;
    for (size_t k = 0; k < n.a.size(); ++k) {
        if (n.a[k] == n.b[k]) continue;
        const int position = owners[k];
        if (out.positions.empty() || out.positions.back() != position) out.positions.push_back(position);
        from.push_back(n.a[k]);
        to.push_back(n.b[k]);
    }
    if (out.a != "absent") out.a = values_text(from, n.dimension);
    if (out.b != "absent") out.b = values_text(to, n.dimension);
    return out;
}

std::optional<Mode> least_of(const CheckResult& result, ModeKind kind) {
    std::optional<Mode> out;
    for (const PointResult& r : result.points) {
        const Mode* mode = r.point.judged ? least_damped(r.modes.modes, kind, result.require) : nullptr;
        if (mode != nullptr && (!out || mode->damping_ratio() < out->damping_ratio())) out = *mode;
    }
    return out;
}

void part(Comparison& out, const SameForm& form) {
    if (!form.others.empty()) {
        constexpr size_t most = 3;
        std::string keys;
        for (size_t k = 0; k < std::min(form.others.size(), most); ++k)
            keys += (k ? ", " : "") + form.others[k].key;
        if (form.others.size() > most) keys += fmt::format(" and {} more", form.others.size() - most);
        out.why_not_parted = "not divisible: " + keys;
        return;
    }
    if (!out.worst_a || !out.worst_b) {
        out.why_not_parted = fmt::format("no {} mode oscillates in the band of one of them",
                                         out.kind == ModeKind::common ? "common" : "differential");
        return;
    }
    out.parted = true;
    if (form.numbers.empty()) return;
    Way way(form, out.kind);
    const std::vector<double> parts = Parts(way, form.numbers.size()).integrate(*out.worst_a, *out.worst_b);
    out.change_of_kind = *out.worst_b - *out.worst_a;
    for (size_t k = 0; k < parts.size(); ++k) {
        out.inputs[k].part = parts[k];
        out.change_of_kind -= parts[k];
    }
    std::stable_sort(out.inputs.begin(), out.inputs.end(),
                     [](const ComparedInput& x, const ComparedInput& y) {
                         return std::abs(x.part.value_or(0)) > std::abs(y.part.value_or(0));
                     });
}

}  // namespace

Comparison compare(const Case& a, const Case& b) {
    Comparison out;
    out.a = check(a);
    out.b = check(b);
    out.file_a = a.file;
    out.file_b = b.file;
    if (a.n() == 1 && b.n() == 1) out.kind = ModeKind::common;
    const SameForm form = same_form(a, b);
    for (const DifferentNumber& n : form.numbers) out.inputs.push_back(compared(a, b, form, n));
    out.least_a = least_of(out.a, out.kind);
    out.least_b = least_of(out.b, out.kind);
    if (out.least_a) out.worst_a = out.least_a->damping_ratio();
    if (out.least_b) out.worst_b = out.least_b->damping_ratio();
    part(out, form);
    for (const DifferentText& t : form.others)
        out.inputs.push_back({t.key, {}, t.a.empty() ? "absent" : t.a, t.b.empty() ? "absent" : t.b, {}});
    return out;
}

}  // namespace ringquell
