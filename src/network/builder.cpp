#include "network/builder.h"

#include <fmt/format.h>

#include <algorithm>
#include <numeric>
#include <queue>

namespace ringquell::internal {

namespace {

std::string with_position(const std::string& name, int position) {
    if (position == 0) return name;
    return fmt::format("{}[{}]", name, position);
}

Incidence subtract(const Incidence& a, const Incidence& b) {
    Incidence out = a;
    for (const auto& [index, value] : b) {
        auto it = std::find_if(out.begin(), out.end(), [i = index](const auto& e) { return e.first == i; });
        if (it == out.end())
            out.emplace_back(index, -value);
        else if ((it->second -= value) == 0)
            out.erase(it);
    }
    std::sort(out.begin(), out.end());
    return out;
}

}  // namespace

int NetworkBuilder::node(const std::string& name) {
    const auto [it, added] = node_numbers_.try_emplace(name, static_cast<int>(node_names_.size()));
    if (added) {
        node_names_.push_back(name);
        parent_.push_back(it->second);
    }
    return it->second;
}

std::optional<int> NetworkBuilder::joined_node(const std::string& name) {
    const auto found = node_numbers_.find(name);
    if (found == node_numbers_.end()) return {};
    const auto joins = [&](const Branch& branch) {
        return branch.kind != Branch::Kind::transconductance &&
               (same(branch.at.from, found->second) || same(branch.at.to, found->second));
    };
    if (std::none_of(branches_.begin(), branches_.end(), joins)) return {};
    return found->second;
}

int NetworkBuilder::root(int node) {
    while (parent_[static_cast<size_t>(node)] != node) {
        parent_[static_cast<size_t>(node)] = parent_[static_cast<size_t>(parent_[static_cast<size_t>(node)])];
        node = parent_[static_cast<size_t>(node)];
    }
    return node;
}

void NetworkBuilder::wire(int a, int b) {
    a = root(a);
    b = root(b);
    if (a == b) return;
    // The reference, else the older node, gives the merged node its name.
    if (b == root(reference_) || (a != root(reference_) && b < a)) std::swap(a, b);
    parent_[static_cast<size_t>(b)] = a;
}

NetworkBuilder::Stamp NetworkBuilder::stamp_of(ElementKind kind, const Part& part, int position,
                                               double scale) const {
    return {kind, part.name, part.rule, number(part.rule, position), scale};
}

void NetworkBuilder::series(const std::string& name, int position, int a, int b,
                            const std::vector<Part>& parts, double scale) {
    // Order in a series string does not matter: all resistances and inductances come first, as one current.
    Branch current{Branch::Kind::current, name, position, {a, b}, {}};
    std::vector<const Part*> others;
    for (const Part& part : parts) {
        if (part.kind == Part::Kind::winding || part.kind == Part::Kind::parallel) {
            others.push_back(&part);
            continue;
        }
        const ElementKind kind = part.kind == Part::Kind::resistance   ? ElementKind::resistance
                                 : part.kind == Part::Kind::inductance ? ElementKind::inductance
                                                                       : ElementKind::capacitance;
        Stamp stamp = stamp_of(kind, part, position, scale);
        const bool present = part.keep || stands(kind, stamp.number);
        if (!present) absent_.push_back({kind, position, part.rule});
        if (kind == ElementKind::capacitance) {
            if (!present) return;  // open
            others.push_back(&part);
        } else if (present) {
            current.stamps.push_back(std::move(stamp));
            current.keep |= part.keep;
        }
    }
    const bool has_current = !current.stamps.empty();
    std::vector<int> nodes{a};
    const size_t pieces = others.size() + (has_current ? 1 : 0);
    for (size_t i = 1; i < pieces; ++i)
        nodes.push_back(node(fmt::format("inner {} of {}", ++inner_nodes_, with_position(name, position))));
    nodes.push_back(b);
    if (pieces == 0) {
        wire(a, b);
        return;
    }
    size_t at = 0;
    if (has_current) {
        current.at = {nodes[0], nodes[1]};
        const bool single_resistance =
            current.stamps.size() == 1 && current.stamps[0].kind == ElementKind::resistance && !current.keep;
        if (single_resistance) current.kind = Branch::Kind::conductance;
        branches_.push_back(current);
        at = 1;
    }
    for (const Part* part : others) {
        current.at = {nodes[at], nodes[at + 1]};
        ++at;
        place(*part, current, scale);
    }
}

/// A capacitance, a winding, or strings side by side, `within` a string and where it says.
void NetworkBuilder::place(const Part& part, const Branch& within, double scale) {
    Branch branch{Branch::Kind::capacitance, within.name, within.position, within.at, {}};
    if (part.kind == Part::Kind::parallel) {
        for (const auto& string : part.branches)
            series(branch.name, branch.position, branch.at.from, branch.at.to, string, scale);
        return;
    }
    if (part.kind == Part::Kind::capacitance) {
        branch.stamps.push_back(stamp_of(ElementKind::capacitance, part, branch.position, 1 / scale));
    } else {
        branch.kind = Branch::Kind::current;
        branch.name = part.name;
        branch.keep = true;
        pairs_[part.pair].branches[part.side] = branches_.size();
    }
    branches_.push_back(std::move(branch));
}

void NetworkBuilder::conductance(const std::string& name, int position, Between across, NumberOf siemens) {
    const Stamp stamp{ElementKind::conductance, name, {siemens}, number({siemens}, position), 1};
    if (!stands(stamp.kind, stamp.number))
        absent_.push_back({stamp.kind, position, stamp.rule});
    else
        branches_.push_back({Branch::Kind::conductance, name, position, across, {stamp}});
}

void NetworkBuilder::transconductance(const std::string& name, int position, Between across, Between control,
                                      NumberOf siemens) {
    const Stamp stamp{ElementKind::transconductance, name, {siemens}, number({siemens}, position), 1};
    if (!stands(stamp.kind, stamp.number))
        absent_.push_back({stamp.kind, position, stamp.rule});
    else
        branches_.push_back({Branch::Kind::transconductance, name, position, across, {stamp}, control});
}

size_t NetworkBuilder::couple_windings(int position, const Part& inductance, const Part& leakage) {
    constexpr double each = 0.5;  // of g kᵀ and of k gᵀ
    pairs_.push_back({position, stamp_of(ElementKind::inductance, inductance, position, 1),
                      stamp_of(ElementKind::mutual, leakage, position, each)});
    return pairs_.size() - 1;
}

Incidence NetworkBuilder::difference(Between nodes) const {
    return subtract(potential_[static_cast<size_t>(nodes.from)], potential_[static_cast<size_t>(nodes.to)]);
}

/// Every node must be joined to the reference by something; gm alone does not hold a node.
void NetworkBuilder::check_held() {
    const size_t n = node_names_.size();
    std::vector<std::vector<int>> neighbours(n);
    for (const Branch& branch : branches_) {
        if (branch.kind == Branch::Kind::transconductance) continue;
        const auto [a, b] = branch.at;
        neighbours[static_cast<size_t>(a)].push_back(b);
        neighbours[static_cast<size_t>(b)].push_back(a);
    }
    std::vector<bool> seen(n, false);
    std::queue<int> queue;
    queue.push(root(reference_));
    seen[static_cast<size_t>(root(reference_))] = true;
    while (!queue.empty()) {
        const int at = queue.front();
        queue.pop();
        for (int next : neighbours[static_cast<size_t>(at)])
            if (!seen[static_cast<size_t>(next)]) {
                seen[static_cast<size_t>(next)] = true;
                queue.push(next);
            }
    }
    for (const Branch& branch : branches_)
        for (int end : {branch.at.from, branch.at.to})
            if (!seen[static_cast<size_t>(end)])
                throw InputError(
                    {}, with_position(branch.name, branch.position),
                    fmt::format("nothing holds the node `{}`: no resistance, inductance or capacitance "
                                "joins it to the rest of the network",
                                node_names_[static_cast<size_t>(end)]));
}

/// Spanning forest of the capacitances, largest first; each of its capacitances gets an unknown.
NetworkBuilder::Forest NetworkBuilder::span_capacitances(Network& network) {
    const size_t n = node_names_.size();
    std::vector<size_t> order;
    for (size_t i = 0; i < branches_.size(); ++i)
        if (branches_[i].kind == Branch::Kind::capacitance && branches_[i].at.from != branches_[i].at.to)
            order.push_back(i);
    std::stable_sort(order.begin(), order.end(), [&](size_t x, size_t y) {
        return branches_[x].stamps[0].value() > branches_[y].stamps[0].value();
    });
    std::vector<int> group(n);
    std::iota(group.begin(), group.end(), 0);
    const auto find = [&group](int x) {
        while (group[static_cast<size_t>(x)] != x)
            x = group[static_cast<size_t>(x)] = group[static_cast<size_t>(group[static_cast<size_t>(x)])];
        return x;
    };
    Forest forest(n);
    std::vector<size_t> in_forest;
    for (size_t i : order) {
        const auto [a, b] = branches_[i].at;
        const int ga = find(a), gb = find(b);
        if (ga == gb) continue;
        group[static_cast<size_t>(ga)] = gb;
        forest[static_cast<size_t>(a)].emplace_back(b, i);
        forest[static_cast<size_t>(b)].emplace_back(a, i);
        in_forest.push_back(i);
    }
    std::sort(in_forest.begin(), in_forest.end());
    for (size_t i : in_forest) {
        Branch& branch = branches_[i];
        branch.unknown = network.size();
        network.unknowns.push_back(
            {"voltage " + with_position(branch.stamps[0].name, branch.position), branch.position, false});
    }
    return forest;
}

/// The potentials of all nodes that the forest joins to `start`, whose own is known.
void NetworkBuilder::walk(int start, const Forest& forest, std::vector<bool>& seen) {
    std::queue<int> queue;
    queue.push(start);
    seen[static_cast<size_t>(start)] = true;
    while (!queue.empty()) {
        const int at = queue.front();
        queue.pop();
        for (const auto& [next, i] : forest[static_cast<size_t>(at)]) {
            if (seen[static_cast<size_t>(next)]) continue;
            seen[static_cast<size_t>(next)] = true;
            const Branch& branch = branches_[i];  // unknown = V(from) − V(to)
            const double sign = branch.at.from == next ? 1.0 : -1.0;
            potential_[static_cast<size_t>(next)] =
                subtract(potential_[static_cast<size_t>(at)], {{branch.unknown, -sign}});
            queue.push(next);
        }
    }
}

/// Each group of nodes that no capacitance joins to the reference has a potential of its own.
void NetworkBuilder::set_potentials(Network& network, const Forest& forest) {
    potential_.assign(node_names_.size(), {});
    std::vector<bool> seen(node_names_.size(), false);
    walk(root(reference_), forest, seen);
    for (const Branch& branch : branches_)
        for (int end : {branch.at.from, branch.at.to}) {
            if (seen[static_cast<size_t>(end)]) continue;
            potential_[static_cast<size_t>(end)] = {{network.size(), 1.0}};
            network.unknowns.push_back(
                {"potential " + node_names_[static_cast<size_t>(end)], branch.position, false});
            walk(end, forest, seen);
        }
}

void NetworkBuilder::choose_unknowns(Network& network) {
    set_potentials(network, span_capacitances(network));
    // A string of resistances that a wire shorts carries nothing. Its elements stay, for who sets their
    // values.
    const auto idle = [](const Branch& branch) {
        return branch.at.from == branch.at.to && !branch.stamps.empty() &&
               std::all_of(branch.stamps.begin(), branch.stamps.end(),
                           [](const Stamp& s) { return s.kind == ElementKind::resistance; });
    };
    for (Branch& branch : branches_) {
        if (branch.kind != Branch::Kind::current || idle(branch)) continue;
        branch.unknown = network.size();
        network.unknowns.push_back(
            {"current " + with_position(branch.name, branch.position), branch.position, true});
    }
}

void NetworkBuilder::add(Network& network, const Stamp& stamp, int position, Incidence left,
                         Incidence right) {
    Element element;
    element.name = stamp.name;
    element.position = position;
    element.kind = stamp.kind;
    element.scale = stamp.scale;
    element.rule = stamp.rule;
    element.left = std::move(left);
    element.right = std::move(right);
    element.slot = slots_.try_emplace(stamp.name, static_cast<int>(slots_.size())).first->second;
    element.value = element.value_of(stamp.number);
    network.elements.push_back(std::move(element));
}

void NetworkBuilder::stamp(const Branch& branch, Network& network) {
    const Incidence d = difference(branch.at);
    if (branch.kind == Branch::Kind::current) {
        const Incidence unit = branch.unknown < 0 ? Incidence{} : Incidence{{branch.unknown, 1.0}};
        for (const Stamp& s : branch.stamps) add(network, s, branch.position, unit, unit);
        for (const auto& [i, sign] : d) {
            network.constant.emplace_back(branch.unknown, i, sign);
            network.constant.emplace_back(i, branch.unknown, -sign);
        }
        return;
    }
    const bool controlled = branch.kind == Branch::Kind::transconductance;
    const Incidence right = controlled ? difference(branch.control) : d;
    if (d.empty() || right.empty()) return;
    add(network, branch.stamps[0], branch.position, d, right);
    Element& element = network.elements.back();
    if (element.kind != ElementKind::resistance) return;
    element.kind = ElementKind::conductance;
    element.reciprocal = true;
    element.value = element.value_of(branch.stamps[0].number);
}

void NetworkBuilder::stamp(const WindingPair& pair, Network& network) {
    const int one = branches_[pair.branches[0]].unknown, other = branches_[pair.branches[1]].unknown;
    const Incidence difference_of_currents{{one, 1.0}, {other, -1.0}};
    add(network, pair.inductance, pair.position, difference_of_currents, difference_of_currents);
    if (pair.leakage.number != 0)
        add(network, pair.leakage, pair.position, {{one, 1.0}}, {{other, 1.0}});
    else
        network.absent.push_back({ElementKind::mutual, pair.position, pair.leakage.rule});
}

void NetworkBuilder::stamp(Network& network, bool describe) {
    for (const Branch& branch : branches_) {
        const size_t first = network.elements.size();
        stamp(branch, network);
        if (!describe) continue;
        Joint joint{branch.name,
                    branch.position,
                    node_names_[static_cast<size_t>(branch.at.from)],
                    node_names_[static_cast<size_t>(branch.at.to)],
                    {}};
        for (size_t i = first; i < network.elements.size(); ++i) joint.elements.push_back(i);
        network.joints.push_back(std::move(joint));
    }
    for (const WindingPair& pair : pairs_) stamp(pair, network);
    network.slots = static_cast<int>(slots_.size());
}

void NetworkBuilder::open_ports(Network& network, const NetworkOptions& options) {
    const auto known = [this](const std::string& name) {
        const auto found = node_numbers_.find(name);
        if (found == node_numbers_.end())
            throw InputError({}, name,
                             "is no node of this network; expected one that it names in its joints");
        const int node = root(found->second);
        if (potential_[static_cast<size_t>(node)].empty() && node != root(reference_))
            throw InputError({}, name, "is a node that nothing of this network holds");
        return node;
    };
    for (const auto& [from, to] : options.ports)
        network.ports.push_back({from, to, difference({known(from), known(to)})});
}

Network NetworkBuilder::finish(const NetworkOptions& options) {
    const auto merge = [this](Between& nodes) {
        if (nodes.from >= 0) nodes = {root(nodes.from), root(nodes.to)};
    };
    for (Branch& branch : branches_) {
        merge(branch.at);
        merge(branch.control);
    }
    check_held();
    Network network;
    network.absent = std::move(absent_);
    choose_unknowns(network);
    stamp(network, options.describe);
    open_ports(network, options);
    return network;
}

}  // namespace ringquell::internal
