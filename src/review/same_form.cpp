#include "review/same_form.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <numeric>
#include <set>
#include <utility>

#include "case/key.h"
#include "reader/document.h"
#include "ringquell/numbers.h"
#include "ringquell/write_case.h"

namespace ringquell::internal {

namespace {

void lend(const std::optional<SeriesRlc>& from, std::optional<SeriesRlc>& to) {
    if (!from || to) return;
    to = from;
    to->capacitance_f = 0;
}

/// A wire: what is across an inductance of nothing has nothing to do.
void lend(const std::optional<Bead>& from, std::optional<Bead>& to) {
    if (!from || to) return;
    to = from;
    to->dc_resistance_ohm = to->capacitance_f = 0;
    for (BeadSection& s : to->sections) s.inductance_h = 0;
}

void lend(const std::optional<Bus>& from, std::optional<Bus>& to) {
    if (!from || to) return;
    to = from;
    std::fill(to->inductance_h.begin(), to->inductance_h.end(), 0.0);
    std::fill(to->resistance_ohm.begin(), to->resistance_ohm.end(), 0.0);
}

void lend(const Position& from, Position& to) {
    lend(from.snubber, to.snubber);
    lend(from.gate_shunt, to.gate_shunt);
    lend(from.gate_drain, to.gate_drain);
    lend(from.tab, to.tab);
    lend(from.gate_path.bead, to.gate_path.bead);
    if (from.kelvin_path && to.kelvin_path) lend(from.kelvin_path->bead, to.kelvin_path->bead);
}

bool same_pair(const Coupling& x, const Coupling& y) {
    return (x.first == y.first && x.second == y.second) || (x.first == y.second && x.second == y.first);
}

/// Those of `from` that `to` lacks, with nothing coupled.
void lend(const std::vector<Coupling>& from, std::vector<Coupling>& to) {
    for (const Coupling& c : from) {
        if (std::any_of(to.begin(), to.end(), [&](const Coupling& mine) { return same_pair(mine, c); }))
            continue;
        to.push_back(c);
        if (c.coefficient) to.back().coefficient = 0;
        if (c.mutual_h) to.back().mutual_h = 0;
    }
}

void in_order_of(const std::vector<Coupling>& order, std::vector<Coupling>& couplings) {
    std::vector<Coupling> out;
    for (const Coupling& wanted : order) {
        const auto mine = std::find_if(couplings.begin(), couplings.end(),
                                       [&](const Coupling& c) { return same_pair(c, wanted); });
        if (mine == couplings.end()) return;
        out.push_back(*mine);
        out.back().first = wanted.first;
        out.back().second = wanted.second;
    }
    if (out.size() == couplings.size()) couplings = std::move(out);
}

void lend(const Case& from, Case& to) {
    for (size_t k = 0; k < to.positions.size(); ++k) lend(from.positions[k], to.positions[k]);
    // A position without a temperature of its own has the operation's.
    const auto& shared = to.operation.junction_temperatures_degc;
    for (size_t k = 0; k < to.positions.size() && shared.size() == 1; ++k)
        if (from.positions[k].junction_temperature_degc && !to.positions[k].junction_temperature_degc)
            to.positions[k].junction_temperature_degc = shared.front();
    for (size_t k = 0; k < to.buses.size(); ++k) lend(from.buses[k], to.buses[k]);
    lend(from.couplings, to.couplings);
}

using Leaves = std::map<std::string, std::string>;

void gather(const Node& node, const std::string& path, Leaves& out) {
    if (node.is_map()) {
        for (const auto& [key, value] : node.entries) gather(value, join_key(path, key.text), out);
    } else if (node.is_list()) {
        for (size_t i = 0; i < node.items.size(); ++i)
            gather(node.items[i], fmt::format("{}[{}]", path, i + 1), out);
    } else {
        out[path] = node.scalar;
    }
}

Leaves leaves(const Case& input) {
    Leaves out;
    gather(parse_document(write_case(input), "case"), "", out);
    return out;
}

std::vector<DifferentText> different_leaves(const Case& a, const Case& b) {
    const Leaves of_a = leaves(a), of_b = leaves(b);
    std::vector<DifferentText> out;
    for (const auto& [key, text] : of_a) {
        const auto other = of_b.find(key);
        if (other == of_b.end() || other->second != text)
            out.push_back({key, text, other == of_b.end() ? "" : other->second});
    }
    for (const auto& [key, text] : of_b)
        if (!of_a.contains(key)) out.push_back({key, "", text});
    return out;
}

void forget_names(Case& input) {
    input.title.clear();
    input.spread.clear();
    input.cure = {};
    input.assumed.clear();
    input.measured.clear();
    for (Position& p : input.positions) {
        if (p.gate_path.bead) p.gate_path.bead->name.clear();
        if (p.kelvin_path && p.kelvin_path->bead) p.kelvin_path->bead->name.clear();
    }
}

/// The keys that name each number once, in their order: where one key names several that keys of their own name
/// (`gate_path.resistor`, the resistors of both edges), these.
std::vector<std::string> disjoint(const Case& input, const std::vector<std::string>& keys) {
    std::vector<size_t> order(keys.size());
    std::iota(order.begin(), order.end(), size_t{0});
    std::vector<std::vector<const double*>> values;
    values.reserve(keys.size());
    for (const std::string& key : keys) values.push_back(find_number(input, key).values);
    std::stable_sort(order.begin(), order.end(),
                     [&](size_t x, size_t y) { return values[x].size() < values[y].size(); });
    std::set<const double*> named;
    std::vector<size_t> kept;
    for (const size_t k : order) {
        const size_t before = named.size();
        named.insert(values[k].begin(), values[k].end());
        if (named.size() > before) kept.push_back(k);
    }
    std::sort(kept.begin(), kept.end());
    std::vector<std::string> out;
    out.reserve(kept.size());
    for (const size_t k : kept) out.push_back(keys[k]);
    return out;
}

}  // namespace

SameForm same_form(const Case& a, const Case& b) {
    SameForm out{a, b, {}, {}};
    forget_names(out.a);
    forget_names(out.b);
    if (a.n() != b.n()) {
        out.others = {{"positions", std::to_string(a.n()), std::to_string(b.n())}};
        return out;
    }
    lend(b, out.a);
    lend(a, out.b);
    in_order_of(out.a.couplings, out.b.couplings);
    const std::vector<std::string> keys = number_keys(out.a);
    if (keys != number_keys(out.b)) {
        out.others = different_leaves(out.a, out.b);
        return out;
    }
    Case rest = out.b;
    for (const std::string& key : disjoint(out.a, keys)) {
        const ConstNumber from = find_number(std::as_const(out.a), key),
                          to = find_number(std::as_const(out.b), key);
        const Number left = find_number(rest, key);
        if (from.values.size() != to.values.size()) continue;  // found below
        DifferentNumber number{key, from.dimension, {}, {}};
        for (size_t i = 0; i < from.values.size(); ++i) {
            number.a.push_back(*from.values[i]);
            number.b.push_back(*to.values[i]);
            *left.values[i] = *from.values[i];
        }
        if (number.a != number.b) out.numbers.push_back(std::move(number));
    }
    out.others = different_leaves(out.a, rest);
    return out;
}

}  // namespace ringquell::internal
