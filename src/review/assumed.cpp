#include "review/assumed.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "devices/gate_current.h"
#include "modes/examine.h"
#include "modes/sensitivity.h"
#include "ringquell/numbers.h"

namespace ringquell::internal {

namespace {

/// The worst mode, and how its damping follows the numbers of the case.
class Slopes {
  public:
    Slopes(const Case& input, const CheckResult& result, const FoundMode& found)
        : input_(input),
          point_(found.point),
          kind_(found.mode.kind),
          eigenvalue_(found.mode.eigenvalue),
          alike_(result.points[found.point].modes.by_blocks()) {
        const Network network = network_of(input, result.points[point_].point, alike_, kind_);
        const ModeShares shares = mode_shares(network, eigenvalue_);
        for (size_t i = 0; i < network.elements.size(); ++i) {
            const Element& e = network.elements[i];
            by_element_[e.name] += shares.elements[i].damping_slope;
            if (e.label() != e.name) by_element_[e.label()] += shares.elements[i].damping_slope;
        }
    }

    /// dζ/d ln(number); empty where the number cannot be moved.
    std::optional<double> of(const std::string& key) const {
        // An element's value is in proportion to the number of its key. Where a bead saturates, some move its
        // bias, too.
        const auto found = by_element_.find(key);
        if (found != by_element_.end() && !has_saturating_bead(input_)) return found->second;
        try {
            return by_difference(key);
        } catch (const InputError&) {
        } catch (const NumericalError&) {
        }
        return std::nullopt;
    }

  private:
    double by_difference(const std::string& key) const {
        Case moved = input_;
        give_points_own_devices(moved, key);
        const std::vector<double*> values = find_number(moved, key).values;
        std::vector<double> now;
        now.reserve(values.size());
        for (const double* v : values) now.push_back(*v);
        constexpr double step = 1e-4;
        const auto damping = [&](double factor) {
            for (size_t k = 0; k < values.size(); ++k) *values[k] = now[k] * factor;
            const OperatingPath path = operating_path(moved);
            const Network network = network_of(moved, path.points.at(point_), alike_, kind_);
            const std::complex<double> found = probe(network, eigenvalue_).eigenvalue;
            return -found.real() / std::abs(found);
        };
        return (damping(1 + step) - damping(1 - step)) / (2 * step);
    }

    const Case& input_;
    size_t point_;
    ModeKind kind_;
    std::complex<double> eigenvalue_;
    bool alike_;
    std::map<std::string, double> by_element_;
};

/// The tolerances of a number together, as a share of its value; empty where it has none.
std::optional<double> tolerance_share(const Case& input, const std::string& key, double value) {
    double sum = 0;
    for (const Tolerance& t : input.spread) {
        if (t.key != key) continue;
        const double share = t.relative ? t.amount : value != 0 ? t.amount / std::abs(value) : 0;
        const double least = t.at_least > 0 && value != 0 ? t.at_least / std::abs(value) : 0;
        sum += std::max(share, least);
    }
    if (sum > 0) return sum;
    return std::nullopt;
}

}  // namespace

std::vector<AssumedValue> weigh_assumed(const Case& input, const CheckResult& result) {
    std::vector<AssumedValue> out;
    if (input.assumed.empty()) return out;
    const auto& found = input.n() > 1 ? result.worst_differential : result.worst_common;
    std::optional<Slopes> slopes;
    if (found) slopes.emplace(input, result, *found);
    for (const Assumed& a : input.assumed) {
        AssumedValue value{a.key, std::nullopt, false};
        constexpr double tenth = 0.1;
        const auto tolerance = tolerance_share(input, a.key, *find_number(input, a.key).values.front());
        value.over_tolerance = tolerance.has_value();
        if (const auto slope = slopes ? slopes->of(a.key) : std::nullopt)
            value.damping_change = std::abs(*slope) * tolerance.value_or(tenth);
        out.push_back(std::move(value));
    }
    std::stable_sort(out.begin(), out.end(), [](const AssumedValue& x, const AssumedValue& y) {
        return x.damping_change.value_or(-1) > y.damping_change.value_or(-1);
    });
    return out;
}

}  // namespace ringquell::internal
