#include "network/couplings.h"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <charconv>
#include <cmath>
#include <map>
#include <numeric>
#include <string_view>

#include "case/coupling_names.h"

namespace ringquell::internal {

namespace {

/// The number of the segment of a rail whose inductance the element is; 0 where it is none's.
int segment_of(const std::string& element, std::string_view rail) {
    if (!element.starts_with(rail) || !element.ends_with("].inductance")) return 0;
    int out = 0;
    std::from_chars(element.data() + rail.size() + 1, element.data() + element.size(), out);
    return out;
}

/// Elements (indices) that a name stands for, keyed by position or bus segment; key 0 for a shared one.
std::map<int, size_t> matching_elements(const Network& network, const InductanceName& name) {
    std::map<int, size_t> out;
    const CoupledInductance* inductance = coupled_inductance(name.name);
    if (inductance == nullptr) return out;
    for (size_t i = 0; i < network.elements.size(); ++i) {
        const Element& e = network.elements[i];
        if (e.kind != ElementKind::inductance) continue;
        int at = e.position;
        if (inductance->counts == Counts::segments) {
            at = segment_of(e.name, inductance->element);
            if (at == 0) continue;
        } else if (e.name != inductance->element) {
            continue;
        }
        if (!name.index || at == *name.index) out[at] = i;
    }
    return out;
}

bool is_bus(const InductanceName& name) {
    return coupled_inductance(name.name)->counts == Counts::segments;
}

/// Names the first coupling, in the order of the case, with which the inductance matrix is not positive
/// definite.
void check_positive_definite(const Network& network, const Case& input,
                             const std::vector<std::pair<size_t, size_t>>& mutuals) {
    // mutuals: (element index, coupling index). The unknowns that inductances share form small groups.
    std::vector<int> group(static_cast<size_t>(network.size()));
    std::iota(group.begin(), group.end(), 0);
    const auto find = [&group](int x) {
        while (group[static_cast<size_t>(x)] != x)
            x = group[static_cast<size_t>(x)] = group[static_cast<size_t>(group[static_cast<size_t>(x)])];
        return x;
    };
    const auto join = [&](const Element& e) {
        const int first = find(e.left.front().first);
        for (const auto& [i, s] : e.left) group[static_cast<size_t>(find(i))] = first;
        for (const auto& [i, s] : e.right) group[static_cast<size_t>(find(i))] = first;
    };
    for (const Element& e : network.elements)
        if (e.kind == ElementKind::inductance || e.kind == ElementKind::mutual) join(e);
    std::map<int, std::vector<std::pair<size_t, size_t>>> by_group;
    for (const auto& m : mutuals) by_group[find(network.elements[m.first].left.front().first)].push_back(m);
    for (const auto& [id, group_mutuals] : by_group) {
        std::map<int, int> row;
        for (int i = 0; i < network.size(); ++i)
            if (network.unknowns[static_cast<size_t>(i)].is_current && find(i) == id)
                row.try_emplace(i, static_cast<int>(row.size()));
        Eigen::MatrixXd l = Eigen::MatrixXd::Zero(static_cast<int>(row.size()), static_cast<int>(row.size()));
        const auto add = [&](const Element& e) {
            for (const auto& [i, a] : e.left)
                for (const auto& [j, b] : e.right) {
                    l(row.at(i), row.at(j)) += a * b * e.value;
                    if (e.kind == ElementKind::mutual) l(row.at(j), row.at(i)) += a * b * e.value;
                }
        };
        for (const Element& e : network.elements)
            if ((e.kind == ElementKind::inductance || e.is_leakage()) && find(e.left.front().first) == id)
                add(e);
        // A choke's windings may lack leakage: an inductance beside them then has no part in this check.
        const auto definite = [](const Eigen::MatrixXd& m) {
            const Eigen::VectorXd scale = m.diagonal().cwiseSqrt().cwiseInverse();
            if (!scale.allFinite()) return false;
            return Eigen::LLT<Eigen::MatrixXd>(scale.asDiagonal() * m * scale.asDiagonal()).info() ==
                   Eigen::Success;
        };
        if (!definite(l)) continue;
        Eigen::MatrixXd before = l;
        for (const auto& [element, coupling] : group_mutuals) add(network.elements[element]);
        if (definite(l)) continue;
        l = before;
        for (const auto& [element, coupling] : group_mutuals) {
            add(network.elements[element]);
            if (definite(l)) continue;
            const Coupling& c = input.couplings[coupling];
            throw InputError(
                c.place, fmt::format("couplings[{}]", coupling + 1),
                fmt::format(
                    "with the coupling between {} and {} the inductance matrix is not positive definite "
                    "(more "
                    "flux is shared than there is); expected a smaller coefficient or mutual inductance",
                    written(c.first), written(c.second)));
        }
    }
}

/// The number that a coupling gives: its mutual inductance, or its coefficient.
double coupling_number(const Rule::At& at) {
    const Coupling& coupling = at.input.couplings[at.index];
    return coupling.mutual_h ? *coupling.mutual_h : *coupling.coefficient;
}

/// The mutual inductance between two elements, as coupling `index` of the case asks for it.
Element coupled(const Network& network, const Case& input, size_t index, std::pair<size_t, size_t> pair) {
    const Coupling& coupling = input.couplings[index];
    const Element& a = network.elements[pair.first];
    const Element& b = network.elements[pair.second];
    Element out;
    out.kind = ElementKind::mutual;
    out.by_coefficient = !coupling.mutual_h;
    out.name = fmt::format("couplings[{}].{}", index + 1, out.by_coefficient ? "coefficient" : "mutual");
    out.position = std::max(a.position, b.position);
    if (a.position != b.position && a.position != 0 && b.position != 0) out.position = 0;
    out.scale = coupling_scale(out.by_coefficient, {a.value, a.scale}, {b.value, b.scale});
    out.left = a.left;
    out.right = b.left;
    out.first = static_cast<int>(pair.first);
    out.second = static_cast<int>(pair.second);
    out.rule = {coupling_number, index};
    return out;
}

/// The pairs of inductances that a coupling names. Two bare names of positions (or of buses) pair within a
/// position (or segment); otherwise all pairs. None where a name has no inductance in this network.
std::vector<std::pair<size_t, size_t>> coupled_pairs(const Network& network, const Case& input,
                                                     size_t index) {
    const Coupling& coupling = input.couplings[index];
    const auto first = matching_elements(network, coupling.first);
    const auto second = matching_elements(network, coupling.second);
    // Shared parts are in no differential block, the two edges use different bypasses, and a string that a
    // capacitance of zero opens is nowhere: unused_couplings() says what no judged network has.
    const auto require = [&](const auto& found, const InductanceName& name) {
        if (!found.empty()) return true;
        if (has_inductance(input, name)) return false;
        throw InputError(
            coupling.place, fmt::format("couplings[{}].between", index + 1),
            fmt::format("found `{}`, which has no inductance in this case; expected an inductance above zero",
                        written(name)));
    };
    const bool have_first = require(first, coupling.first), have_second = require(second, coupling.second);
    if (!have_first || !have_second) return {};
    const bool pairwise = !coupling.first.index && !coupling.second.index && first.begin()->first != 0 &&
                          second.begin()->first != 0 && is_bus(coupling.first) == is_bus(coupling.second);
    std::vector<std::pair<size_t, size_t>> out;
    for (const auto& [i, x] : first)
        for (const auto& [j, y] : second)
            if (x != y && (!pairwise || i == j)) out.emplace_back(x, y);
    return out;
}

}  // namespace

double coupling_scale(bool by_coefficient, const ScaledValue& first, const ScaledValue& second) {
    // In the common block a shared inductance counts N times, a mutual inductance to it as well.
    const double shared = std::max(first.scale, second.scale);
    return by_coefficient ? shared * std::sqrt(first.value / first.scale * second.value / second.scale)
                          : shared;
}

void add_couplings(Network& network, const Case& input, const OperatingPoint& point) {
    std::vector<std::pair<size_t, size_t>> mutuals;
    int slot = network.slots;
    for (size_t c = 0; c < input.couplings.size(); ++c, ++slot)
        for (const auto& pair : coupled_pairs(network, input, c)) {
            Element mutual = coupled(network, input, c, pair);
            mutual.slot = slot;
            const double number = mutual.rule(input, point, mutual.position);
            mutual.value = mutual.value_of(number);
            if (mutual.value == 0) {
                network.absent.push_back({mutual.kind, mutual.position, mutual.rule});
                continue;
            }
            mutuals.emplace_back(network.elements.size(), c);
            network.elements.push_back(std::move(mutual));
        }
    network.slots = slot;
    if (!mutuals.empty()) check_positive_definite(network, input, mutuals);
}

}  // namespace ringquell::internal
