#include "review/rank_options.h"

#include <algorithm>
#include <limits>

namespace ringquell::internal {

namespace {

/// Recommended, failing, shoot-through.
int standing(const ChosenOption& o) {
    return o.shoot_through() ? 2 : o.passes ? 0 : 1;
}

/// What switching costs: the energy, or where that is not known the resistance, which rises with it.
double price(const ChosenOption& o) {
    constexpr double unknown = std::numeric_limits<double>::infinity();
    return o.cost.switching_energy_j ? *o.cost.switching_energy_j : o.preferred_ohm.value_or(unknown);
}

bool better(const ChosenOption& a, const ChosenOption& b) {
    if (standing(a) != standing(b)) return standing(a) < standing(b);
    const bool a_known = a.cost.switching_energy_j.has_value(),
               b_known = b.cost.switching_energy_j.has_value();
    if (a_known != b_known) return a_known;
    if (price(a) != price(b)) return price(a) < price(b);
    return a.damping_ratio.value_or(1) > b.damping_ratio.value_or(1);
}

/// Is `a` at least as good as `b` in everything that is known of both, and better in something?
bool dominates(const ChosenOption& a, const ChosenOption& b) {
    if (standing(a) > standing(b) || !a.preferred_ohm || !b.preferred_ohm) return false;
    if (a.cost.switching_energy_j.has_value() != b.cost.switching_energy_j.has_value()) return false;
    bool worse = false, strictly = standing(a) < standing(b);
    const auto compare = [&](double x, double y) {  // less is better
        worse = worse || x > y;
        strictly = strictly || x < y;
    };
    compare(price(a), price(b));
    compare(-a.damping_ratio.value_or(1), -b.damping_ratio.value_or(1));
    if (a.induced && b.induced) compare(a.induced->gate_voltage_v, b.induced->gate_voltage_v);
    return !worse && strictly;
}

bool meets_limits(const ChosenOption& o, const ChooseOptions& limits) {
    if (limits.limit_time_s && (!o.cost.transfer_s() || *o.cost.transfer_s() > *limits.limit_time_s))
        return false;
    return !limits.limit_damping || (o.damping_ratio && *o.damping_ratio >= *limits.limit_damping);
}

}  // namespace

void rank_options(std::vector<ChosenOption>& options, const ChooseOptions& limits, int& filtered_out) {
    std::vector<ChosenOption> kept;
    for (ChosenOption& o : options) {
        o.within_limits = meets_limits(o, limits);
        if (o.within_limits || o.bead == "no bead")
            kept.push_back(std::move(o));
        else
            ++filtered_out;
    }
    // What misses a limit stands behind all that meet it, whatever else it does.
    std::stable_sort(kept.begin(), kept.end(), [](const ChosenOption& a, const ChosenOption& b) {
        if (a.within_limits != b.within_limits) return a.within_limits;
        return better(a, b);
    });
    for (size_t i = 0; i < kept.size(); ++i) {
        kept[i].rank = static_cast<int>(i) + 1;
        for (const ChosenOption& other : kept)
            if (kept[i].dominated_by.empty() && &other != &kept[i] &&
                (other.within_limits || !kept[i].within_limits) && dominates(other, kept[i]))
                kept[i].dominated_by = other.bead;
    }
    options = std::move(kept);
}

}  // namespace ringquell::internal
