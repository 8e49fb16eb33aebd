#include "ringquell/explain.h"

#include <algorithm>
#include <cmath>
#include <map>
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

/// One row a key, with the sums: several elements of one key, as the mutual terms of a coupling at several
/// positions, are one.
void add_elements(const Network& network, const ModeShares& shares, bool alike, ExplainedMode& out) {
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
}

/// Which keys are numbers of the case; others follow from some, as a capacitance from a datasheet's table.
void mark_numbers(const Case& input, std::vector<ExplainedElement>& elements) {
    const std::vector<std::string> keys = number_keys(input);
    const std::set<std::string> known(keys.begin(), keys.end());
    const auto is_number = [&](const std::string& key) {
        if (known.contains(key)) return true;
        try {
            find_number(input, key);
            return true;
        } catch (const InputError&) {
            return false;
        }
    };
    for (ExplainedElement& e : elements) e.can_vary = is_number(e.share.key);
}

/// Indices of the elements that count, by a value, greatest first.
template <class Counts, class Value>
std::vector<size_t> by_value(const std::vector<ExplainedElement>& elements, const Counts& counts,
                             const Value& value) {
    std::vector<size_t> out;
    for (size_t i = 0; i < elements.size(); ++i)
        if (counts(elements[i])) out.push_back(i);
    std::sort(out.begin(), out.end(),
              [&](size_t a, size_t b) { return value(elements[a].share) > value(elements[b].share); });
    return out;
}

std::vector<size_t> loop_of(const std::vector<ExplainedElement>& elements) {
    constexpr double nine_tenths = 0.9;
    std::vector<size_t> out;
    double held = 0;
    for (const size_t i : by_value(
             elements, [](const ExplainedElement&) { return true; },
             [](const ElementShare& share) { return share.energy_share; })) {
        const double share = elements[i].share.energy_share;
        if (held >= nine_tenths || share <= 0) break;
        held += share;
        out.push_back(i);
    }
    return out;
}

std::vector<size_t> helps_of(const std::vector<ExplainedElement>& elements) {
    constexpr size_t three = 3;
    std::vector<size_t> out = by_value(
        elements,
        [](const ExplainedElement& e) { return e.can_vary && e.share.kind != ElementKind::transconductance; },
        [](const ElementShare& share) { return std::abs(share.damping_slope); });
    out.resize(std::min(three, out.size()));
    return out;
}

ExplainedMode explained(const Case& input, const CheckResult& result, const FoundMode& found) {
    const PointResult& at = result.points[found.point];
    const bool alike = at.modes.by_blocks();
    const Network network = network_of(input, at.point, alike, found.mode.kind);
    ExplainedMode out;
    out.found = found;
    out.point = at.point.name;
    out.damping_needed = damping_target(found.mode, input.require);
    add_elements(network, mode_shares(network, found.mode.eigenvalue), alike, out);
    mark_numbers(input, out.elements);
    out.loop = loop_of(out.elements);
    for (size_t i = 0; i < out.elements.size(); ++i)
        if (out.elements[i].share.damping_share < 0) out.gain.push_back(i);
    out.helps = helps_of(out.elements);
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
