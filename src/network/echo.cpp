#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <map>

#include "ringquell/network_echo.h"

namespace ringquell {

namespace {

double key_value(const Element& e) {
    return e.reciprocal ? 1 / (e.scale * e.value) : e.value / e.scale;
}

EchoedBranch echoed(const Network& network, const Joint& joint) {
    EchoedBranch out{joint.name, joint.from, joint.to, {}};
    for (size_t i : joint.elements) {
        const Element& e = network.elements[i];
        const ElementKind kind = e.reciprocal ? ElementKind::resistance : e.kind;
        out.values.push_back({e.name, kind, key_value(e)});
    }
    return out;
}

/// "gate pin[3]" for any position reads "gate pin".
std::string without_position(const std::string& name, int position) {
    const std::string suffix = fmt::format("[{}]", position);
    if (name.ends_with(suffix)) return name.substr(0, name.size() - suffix.size());
    return name;
}

/// The inductances one by one, as their keys name them, with what they share.
class Inductances {
  public:
    explicit Inductances(const Network& network) : network_(network) {
        for (size_t i = 0; i < network.elements.size(); ++i) {
            const Element& e = network.elements[i];
            if (e.kind == ElementKind::inductance) at_[e.label()] = i;
            if (e.name == "common_mode_choke.leakage") at_[e.label()] = i;
            if (e.kind != ElementKind::mutual || e.first < 0) continue;
            const auto first = static_cast<size_t>(e.first), second = static_cast<size_t>(e.second);
            mutual_[{first, second}] += e.value;
            mutual_[{second, first}] += e.value;
        }
    }
    using Loop = std::map<size_t, double>;  // element -> ±1
    void add(Loop& loop, const std::string& key, double sign) const {
        const auto it = at_.find(key);
        if (it != at_.end()) loop[it->second] += sign;
    }
    double between(const Loop& a, const Loop& b) const {
        double out = 0;
        for (const auto& [i, x] : a)
            for (const auto& [j, y] : b)
                if (i == j) {
                    // A current that goes and returns through both windings of a choke sees the leakage
                    // alone.
                    const Element& e = network_.elements[i];
                    out += x * y * (e.kind == ElementKind::mutual ? key_value(e) : e.value);
                } else if (const auto it = mutual_.find({i, j}); it != mutual_.end()) {
                    out += x * y * it->second;
                }
        return out;
    }

  private:
    const Network& network_;
    std::map<std::string, size_t> at_;
    std::map<std::pair<size_t, size_t>, double> mutual_;
};

Inductances::Loop power_path(const Inductances& l, int k, double sign) {
    Inductances::Loop loop;
    for (const char* key :
         {"drain_path[{}].inductance", "device[{}].package.drain", "device[{}].package.source",
          "source_path[{}].inductance", "device[{}].bonds.mid"})
        l.add(loop, fmt::format(fmt::runtime(key), k), sign);
    return loop;
}

double gate_kelvin_loop(const Inductances& l, int k, bool kelvin_lead) {
    Inductances::Loop loop;
    for (const char* key : {"gate_path[{}].inductance", "device[{}].package.gate",
                            kelvin_lead ? "device[{}].package.kelvin" : "device[{}].package.source",
                            "kelvin_path[{}].inductance", "common_mode_choke[{}].leakage"})
        l.add(loop, fmt::format(fmt::runtime(key), k), 1);
    return l.between(loop, loop);
}

std::vector<EchoedBead> beads(const Network& network, int position) {
    std::vector<EchoedBead> out;
    for (const char* key : {"gate_path.bead", "kelvin_path.bead"}) {
        EchoedBead bead{key, 0, 0};
        const std::string within = std::string(key) + ".";
        for (const Element& e : network.elements) {
            if (e.position != position || !e.name.starts_with(within)) continue;
            if (e.kind == ElementKind::inductance) bead.inductance_h += key_value(e);
            if (e.name.ends_with(".resistance")) bead.resistance_ohm += key_value(e);
        }
        if (bead.inductance_h > 0) out.push_back(std::move(bead));
    }
    return out;
}

double power_loop_with_positions(const Inductances& l, const Inductances::Loop& loop, int n) {
    // N paths side by side, each with its mutual terms: the current divides so that all drops are equal,
    // L_p·i = v·1, Σi = 1.
    std::vector<Inductances::Loop> paths;
    for (int k = 1; k <= n; ++k) paths.push_back(power_path(l, k, 1));
    Eigen::MatrixXd matrix(n, n);
    Eigen::VectorXd to_loop(n);
    for (int i = 0; i < n; ++i) {
        for (int j = 0; j < n; ++j)
            matrix(i, j) = l.between(paths[static_cast<size_t>(i)], paths[static_cast<size_t>(j)]);
        to_loop[i] = l.between(paths[static_cast<size_t>(i)], loop);
    }
    const Eigen::LDLT<Eigen::MatrixXd> ldlt(matrix);
    if (ldlt.info() != Eigen::Success || !(matrix.diagonal().minCoeff() > 0)) return l.between(loop, loop);
    const Eigen::VectorXd ones = Eigen::VectorXd::Ones(n);
    const Eigen::VectorXd share = ldlt.solve(ones) / ones.dot(ldlt.solve(ones));
    return l.between(loop, loop) + share.dot(matrix * share) - 2 * share.dot(to_loop);
}

}  // namespace

NetworkEcho network_echo(const Case& input, const OperatingPoint& point) {
    const Network network = build_network(input, point, {Block::whole, false, true});
    NetworkEcho out;
    out.point = point.name;
    const Inductances l(network);
    std::vector<EchoedPosition> positions(static_cast<size_t>(input.n()));
    for (const Joint& joint : network.joints) {
        EchoedBranch branch = echoed(network, joint);
        if (joint.position == 0) {
            out.shared.push_back(std::move(branch));
            continue;
        }
        branch.from = without_position(branch.from, joint.position);
        branch.to = without_position(branch.to, joint.position);
        positions[static_cast<size_t>(joint.position - 1)].branches.push_back(std::move(branch));
    }
    for (int k = 1; k <= input.n(); ++k) {
        EchoedPosition& p = positions[static_cast<size_t>(k - 1)];
        p.numbers = {k};
        p.gate_kelvin_loop_h = gate_kelvin_loop(
            l, k, input.positions[static_cast<size_t>(k - 1)].device.package.kelvin_h.has_value());
        p.beads = beads(network, k);
        if (k == input.n()) continue;
        Inductances::Loop around = power_path(l, k, 1);
        around.merge(power_path(l, k + 1, -1));
        l.add(around, fmt::format("buses.source[{}].inductance", k), 1);
        l.add(around, fmt::format("buses.drain[{}].inductance", k), -1);
        out.neighbour_loop_h.push_back(l.between(around, around));
    }
    // Positions with the same branches and values are one entry; inner nodes are numbered through, so they do
    // not count.
    const auto same = [](const EchoedPosition& a, const EchoedPosition& b) {
        if (a.gate_kelvin_loop_h != b.gate_kelvin_loop_h || a.branches.size() != b.branches.size())
            return false;
        for (size_t i = 0; i < a.branches.size(); ++i) {
            if (a.branches[i].name != b.branches[i].name ||
                a.branches[i].values.size() != b.branches[i].values.size())
                return false;
            for (size_t j = 0; j < a.branches[i].values.size(); ++j)
                if (a.branches[i].values[j].key != b.branches[i].values[j].key ||
                    a.branches[i].values[j].value != b.branches[i].values[j].value)
                    return false;
        }
        return true;
    };
    for (EchoedPosition& p : positions) {
        const auto it = std::find_if(out.positions.begin(), out.positions.end(),
                                     [&](const EchoedPosition& q) { return same(p, q); });
        if (it == out.positions.end())
            out.positions.push_back(std::move(p));
        else
            it->numbers.push_back(p.numbers.front());
    }
    Inductances::Loop loop;
    l.add(loop, "power_loop.inductance", 1);
    l.add(loop, "power_loop.dc_link.esl", 1);
    out.power_loop_h = l.between(loop, loop);
    out.power_loop_with_positions_h = power_loop_with_positions(l, loop, input.n());
    for (const Element& e : network.elements) {
        if (e.kind != ElementKind::mutual || e.first < 0) continue;
        const Element& a = network.elements[static_cast<size_t>(e.first)];
        const Element& b = network.elements[static_cast<size_t>(e.second)];
        const std::string number = e.name.substr(0, e.name.find('.'));
        const Coupling& given = input.couplings[std::stoul(number.substr(number.find('[') + 1)) - 1];
        out.couplings.push_back({fmt::format("{}: {} and {}", number, a.label(), b.label()), e.value,
                                 given.coefficient.value_or(e.value / std::sqrt(a.value * b.value))});
    }
    return out;
}

}  // namespace ringquell
