#include "ringquell/explain.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <set>

#include "modes/examine.h"
#include "modes/sensitivity.h"
#include "review/passing_value.h"
#include "ringquell/numbers.h"
#include "ringquell/vary.h"

namespace ringquell {

using namespace internal;

namespace {

/// Alike positions: the block stands for all of them, so labels lose their position. So do the mutual terms
/// of a coupling, which is one number of the case.
std::string key_of(const Element& element, bool alike) {
    return alike || element.first >= 0 ? element.name : element.label();
}

ExplainedMode explained(const Case& input, const CheckResult& result, const FoundMode& found) {
    const PointResult& at = result.points[found.point];
    const bool alike = at.modes.method == Method::blocks;
    const Network network = network_of(input, at.point, alike, found.mode.kind);
    const ModeShares shares = mode_shares(network, found.mode.eigenvalue);
    ExplainedMode out;
    out.found = found;
    out.point = at.point.name;
    out.damping_needed = damping_target(found.mode, input.require);
    // Several elements of one key, as the mutual terms of a coupling at several positions, are one row.
    std::map<std::string, size_t> rows;
    for (size_t i = 0; i < network.elements.size(); ++i) {
        ElementShare share = shares.elements[i];
        share.key = key_of(network.elements[i], alike);
        out.energy_sum += share.energy_share;
        out.damping_sum += share.damping_share;
        const auto [row, added] = rows.try_emplace(share.key, out.elements.size());
        if (added) {
            out.elements.push_back({share, false, false, {}});
        } else {
            ElementShare& sum = out.elements[row->second].share;
            sum.energy_share += share.energy_share;
            sum.damping_share += share.damping_share;
            sum.damping_slope += share.damping_slope;
        }
    }
    std::sort(out.elements.begin(), out.elements.end(),
              [](const ExplainedElement& a, const ExplainedElement& b) {
                  return a.share.energy_share + std::abs(a.share.damping_share) >
                         b.share.energy_share + std::abs(b.share.damping_share);
              });
    const std::vector<std::string> keys = number_keys(input);
    const std::set<std::string> known(keys.begin(), keys.end());
    std::vector<size_t> order(out.elements.size());
    std::iota(order.begin(), order.end(), size_t{0});
    for (ExplainedElement& e : out.elements) {
        e.can_vary = known.contains(e.share.key);
        if (!e.can_vary) {
            try {
                find_number(input, e.share.key);
                e.can_vary = true;
            } catch (const InputError&) {
                e.can_vary = false;  // follows from others, as a capacitance from a datasheet's table
            }
        }
    }
    std::vector<size_t> by_energy = order;
    std::sort(by_energy.begin(), by_energy.end(), [&](size_t a, size_t b) {
        return out.elements[a].share.energy_share > out.elements[b].share.energy_share;
    });
    double held = 0;
    constexpr double nine_tenths = 0.9;
    for (size_t i : by_energy) {
        if (held >= nine_tenths || out.elements[i].share.energy_share <= 0) break;
        held += out.elements[i].share.energy_share;
        out.loop.push_back(i);
    }
    for (size_t i : order)
        if (out.elements[i].share.damping_share < 0) out.gain.push_back(i);
    std::vector<size_t> by_slope;
    for (size_t i : order)
        if (out.elements[i].can_vary && out.elements[i].share.kind != ElementKind::transconductance)
            by_slope.push_back(i);
    std::sort(by_slope.begin(), by_slope.end(), [&](size_t a, size_t b) {
        return std::abs(out.elements[a].share.damping_slope) > std::abs(out.elements[b].share.damping_slope);
    });
    constexpr size_t three = 3;
    by_slope.resize(std::min(three, by_slope.size()));
    out.helps = by_slope;
    return out;
}

}  // namespace

Explanation explain(const Case& input, const ExplainOptions& options) {
    CheckOptions plain;
    plain.size_gate_resistor = plain.follow_modes = plain.gain_margin = false;
    return explain_checked(input, check(input, plain), options);
}

Explanation explain_checked(const Case& input, CheckResult result, const ExplainOptions& options) {
    Explanation out;
    out.result = std::move(result);
    for (const auto& found : {out.result.worst_differential, out.result.worst_common})
        if (found) out.modes.push_back(explained(input, out.result, *found));
    if (!options.passing_values || out.result.verdict == Verdict::pass) return out;
    std::map<std::string, std::optional<double>> done;
    for (ExplainedMode& mode : out.modes)
        for (ExplainedElement& e : mode.elements) {
            if (!e.can_vary) continue;
            const auto [it, added] = done.try_emplace(e.share.key);
            if (added) it->second = passing_value(input, e.share.key, out.result);
            e.sought = true;
            e.passes_at = it->second;
        }
    return out;
}

}  // namespace ringquell
