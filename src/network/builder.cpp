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

// Less than this is a wire: no conductor of a board is known so well, and 1/R would drown every other number
// in rounding.
constexpr double negligible_ohm = 1e-9;

void NetworkBuilder::series(const std::string& name, int position, int a, int b,
                            const std::vector<Part>& parts, double scale) {
    // Order in a series string does not matter: all resistances and inductances come first, as one current.
    Branch current{Branch::Kind::current, name, position, a, b, {}};
    std::vector<const Part*> others;
    for (const Part& part : parts) {
        if (part.kind == Part::Kind::resistance && (part.value > negligible_ohm || part.keep)) {
            current.stamps.push_back({ElementKind::resistance, part.name, part.value * scale, scale});
            current.keep |= part.keep;
        } else if (part.kind == Part::Kind::inductance && part.value != 0) {
            current.stamps.push_back({ElementKind::inductance, part.name, part.value * scale, scale});
        } else if (part.kind == Part::Kind::capacitance) {
            if (part.value == 0) return;  // open
            others.push_back(&part);
        } else if (part.kind == Part::Kind::winding || part.kind == Part::Kind::parallel) {
            others.push_back(&part);
        }
    }
    const bool has_current = !current.stamps.empty() || current.keep;
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
        current.a = nodes[0];
        current.b = nodes[1];
        const bool single_resistance =
            current.stamps.size() == 1 && current.stamps[0].kind == ElementKind::resistance && !current.keep;
        if (single_resistance) current.kind = Branch::Kind::conductance;
        branches_.push_back(current);
        at = 1;
    }
    for (const Part* part : others) {
        const int from = nodes[at];
        const int to = nodes[++at];
        if (part->kind == Part::Kind::capacitance) {
            branches_.push_back({Branch::Kind::capacitance,
                                 name,
                                 position,
                                 from,
                                 to,
                                 {{ElementKind::capacitance, part->name, part->value / scale, 1 / scale}}});
        } else if (part->kind == Part::Kind::winding) {
            Branch branch{Branch::Kind::current, part->name, position, from, to, {}};
            branch.keep = true;
            branches_.push_back(branch);
        } else {
            for (const auto& string : part->branches) series(name, position, from, to, string, scale);
        }
    }
}

void NetworkBuilder::conductance(const std::string& name, int position, int a, int b, double siemens) {
    if (siemens == 0) return;
    Branch branch{
        Branch::Kind::conductance, name, position, a, b, {{ElementKind::conductance, name, siemens, 1}}};
    branches_.push_back(branch);
}

void NetworkBuilder::transconductance(const std::string& name, int position, int a, int b, int control_a,
                                      int control_b, double siemens) {
    if (siemens == 0) return;
    branches_.push_back({Branch::Kind::transconductance,
                         name,
                         position,
                         a,
                         b,
                         {{ElementKind::transconductance, name, siemens, 1}},
                         control_a,
                         control_b});
}

void NetworkBuilder::choke(int position, double inductance_h, double leakage_h) {
    chokes_.push_back({position, inductance_h, leakage_h});
}

Incidence NetworkBuilder::difference(int a, int b) const {
    return subtract(potential_[static_cast<size_t>(a)], potential_[static_cast<size_t>(b)]);
}

/// Every node must be joined to the reference by something; gm alone does not hold a node.
void NetworkBuilder::check_held() {
    const size_t n = node_names_.size();
    std::vector<std::vector<int>> neighbours(n);
    for (const Branch& branch : branches_) {
        if (branch.kind == Branch::Kind::transconductance) continue;
        neighbours[static_cast<size_t>(branch.a)].push_back(branch.b);
        neighbours[static_cast<size_t>(branch.b)].push_back(branch.a);
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
        for (int end : {branch.a, branch.b})
            if (!seen[static_cast<size_t>(end)])
                throw InputError(
                    {}, with_position(branch.name, branch.position),
                    fmt::format("nothing holds the node `{}`: no resistance, inductance or capacitance "
                                "joins it to the rest of the network",
                                node_names_[static_cast<size_t>(end)]));
}

/// Spanning forest of the capacitances, largest first: its voltages are unknowns; so is the potential of each
/// group that no capacitance joins to the reference, and the current of each string.
void NetworkBuilder::choose_unknowns(Network& network) {
    const size_t n = node_names_.size();
    std::vector<size_t> order;
    for (size_t i = 0; i < branches_.size(); ++i)
        if (branches_[i].kind == Branch::Kind::capacitance && branches_[i].a != branches_[i].b)
            order.push_back(i);
    std::stable_sort(order.begin(), order.end(), [&](size_t x, size_t y) {
        return branches_[x].stamps[0].value > branches_[y].stamps[0].value;
    });
    std::vector<int> group(n);
    std::iota(group.begin(), group.end(), 0);
    const auto find = [&group](int x) {
        while (group[static_cast<size_t>(x)] != x)
            x = group[static_cast<size_t>(x)] = group[static_cast<size_t>(group[static_cast<size_t>(x)])];
        return x;
    };
    std::vector<std::vector<std::pair<int, size_t>>> tree(n);  // node -> (neighbour, branch)
    std::vector<size_t> tree_branches;
    for (size_t i : order) {
        Branch& branch = branches_[i];
        const int ga = find(branch.a), gb = find(branch.b);
        if (ga == gb) continue;
        group[static_cast<size_t>(ga)] = gb;
        tree[static_cast<size_t>(branch.a)].emplace_back(branch.b, i);
        tree[static_cast<size_t>(branch.b)].emplace_back(branch.a, i);
        tree_branches.push_back(i);
    }
    std::sort(tree_branches.begin(), tree_branches.end());
    const auto add = [&network](std::string name, int position, bool is_current) {
        network.unknowns.push_back({std::move(name), position, is_current});
        return network.size() - 1;
    };
    for (size_t i : tree_branches)
        branches_[i].unknown =
            add("voltage " + with_position(branches_[i].stamps[0].name, branches_[i].position),
                branches_[i].position, false);
    // Potentials by walking each group from its root.
    potential_.assign(n, {});
    std::vector<bool> seen(n, false);
    const auto walk = [&](int start) {
        std::queue<int> queue;
        queue.push(start);
        seen[static_cast<size_t>(start)] = true;
        while (!queue.empty()) {
            const int at = queue.front();
            queue.pop();
            for (const auto& [next, i] : tree[static_cast<size_t>(at)]) {
                if (seen[static_cast<size_t>(next)]) continue;
                seen[static_cast<size_t>(next)] = true;
                const Branch& branch = branches_[i];  // unknown = V(a) − V(b)
                const double sign = branch.a == next ? 1.0 : -1.0;
                potential_[static_cast<size_t>(next)] =
                    subtract(potential_[static_cast<size_t>(at)], {{branch.unknown, -sign}});
                queue.push(next);
            }
        }
    };
    walk(root(reference_));
    for (const Branch& branch : branches_) {
        for (int end : {branch.a, branch.b}) {
            if (seen[static_cast<size_t>(end)]) continue;
            const int unknown =
                add("potential " + node_names_[static_cast<size_t>(end)], branch.position, false);
            potential_[static_cast<size_t>(end)] = {{unknown, 1.0}};
            walk(end);
        }
    }
    // A string of resistances that a wire shorts carries nothing. Its elements stay, for who sets their
    // values.
    const auto idle = [](const Branch& branch) {
        return branch.a == branch.b && !branch.stamps.empty() &&
               std::all_of(branch.stamps.begin(), branch.stamps.end(),
                           [](const Stamp& s) { return s.kind == ElementKind::resistance; });
    };
    for (Branch& branch : branches_)
        if (branch.kind == Branch::Kind::current && !idle(branch))
            branch.unknown =
                add("current " + with_position(branch.name, branch.position), branch.position, true);
}

void NetworkBuilder::stamp(Network& network, bool describe) {
    std::map<std::string, int> slots;
    const auto add = [&](const Stamp& s, ElementKind kind, int position, double value, bool reciprocal,
                         Incidence left, Incidence right) {
        Element element{s.name,          position,        kind, value, reciprocal, s.scale,
                        std::move(left), std::move(right)};
        element.slot = slots.try_emplace(s.name, static_cast<int>(slots.size())).first->second;
        network.elements.push_back(std::move(element));
    };
    for (const Branch& branch : branches_) {
        const Incidence d = difference(branch.a, branch.b);
        const size_t first = network.elements.size();
        switch (branch.kind) {
            case Branch::Kind::capacitance:
                if (!d.empty())
                    add(branch.stamps[0], ElementKind::capacitance, branch.position, branch.stamps[0].value,
                        false, d, d);
                break;
            case Branch::Kind::conductance: {
                const Stamp& s = branch.stamps[0];
                const bool reciprocal = s.kind == ElementKind::resistance;
                if (!d.empty())
                    add(s, ElementKind::conductance, branch.position, reciprocal ? 1 / s.value : s.value,
                        reciprocal, d, d);
                break;
            }
            case Branch::Kind::transconductance: {
                const Incidence control = difference(branch.control_a, branch.control_b);
                if (!d.empty() && !control.empty())
                    add(branch.stamps[0], ElementKind::transconductance, branch.position,
                        branch.stamps[0].value, false, d, control);
                break;
            }
            case Branch::Kind::current: {
                const Incidence unit = branch.unknown < 0 ? Incidence{} : Incidence{{branch.unknown, 1.0}};
                for (const Stamp& s : branch.stamps)
                    add(s, s.kind, branch.position, s.value, false, unit, unit);
                for (const auto& [i, sign] : d) {
                    network.constant.emplace_back(branch.unknown, i, sign);
                    network.constant.emplace_back(i, branch.unknown, -sign);
                }
                break;
            }
        }
        if (!describe) continue;
        Joint joint{branch.name,
                    branch.position,
                    node_names_[static_cast<size_t>(branch.a)],
                    node_names_[static_cast<size_t>(branch.b)],
                    {}};
        for (size_t i = first; i < network.elements.size(); ++i) joint.elements.push_back(i);
        network.joints.push_back(std::move(joint));
    }
    for (const Choke& choke : chokes_) {
        int gate = -1, kelvin = -1;
        for (const Branch& branch : branches_) {
            if (branch.kind != Branch::Kind::current || branch.position != choke.position) continue;
            if (branch.name == "common_mode_choke.gate") gate = branch.unknown;
            if (branch.name == "common_mode_choke.kelvin") kelvin = branch.unknown;
        }
        const Incidence difference_of_currents{{gate, 1.0}, {kelvin, -1.0}};
        const Stamp main{ElementKind::inductance, "common_mode_choke.inductance", choke.inductance_h, 1};
        const Stamp leak{ElementKind::mutual, "common_mode_choke.leakage", choke.leakage_h / 2, 0.5};
        add(main, ElementKind::inductance, choke.position, main.value, false, difference_of_currents,
            difference_of_currents);
        if (leak.value != 0)
            add(leak, ElementKind::mutual, choke.position, leak.value, false, {{gate, 1.0}}, {{kelvin, 1.0}});
    }
    network.slots = static_cast<int>(slots.size());
}

Network NetworkBuilder::finish(bool describe) {
    for (Branch& branch : branches_) {
        branch.a = root(branch.a);
        branch.b = root(branch.b);
        if (branch.control_a >= 0) {
            branch.control_a = root(branch.control_a);
            branch.control_b = root(branch.control_b);
        }
    }
    check_held();
    Network network;
    choose_unknowns(network);
    stamp(network, describe);
    return network;
}

}  // namespace ringquell::internal
