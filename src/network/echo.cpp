#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <map>

#include "ringquell/network_echo.h"

namespace ringquell {

namespace {

EchoedBranch echoed(const Network& network, const Joint& joint) {
    EchoedBranch out{joint.name, joint.from, joint.to, {}};
    for (size_t i : joint.elements) {
        const Element& e = network.elements[i];
        out.values.push_back({e.name, e.number_kind(), e.number()});
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
            if (e.kind == ElementKind::inductance || e.is_leakage()) at_[e.label()] = i;
            if (e.first < 0) continue;
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
                    out += x * y * (e.kind == ElementKind::mutual ? e.number() : e.value);
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
            if (e.kind == ElementKind::inductance) bead.inductance_h += e.number();
            if (e.name.ends_with(".resistance")) bead.resistance_ohm += e.number();
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

/// The positions with the branches inside them; branches of none go to `shared`.
std::vector<EchoedPosition> branches_by_position(const Network& network, int n,
                                                 std::vector<EchoedBranch>& shared) {
    std::vector<EchoedPosition> out(static_cast<size_t>(n));
    for (const Joint& joint : network.joints) {
        EchoedBranch branch = echoed(network, joint);
        if (joint.position == 0) {
            shared.push_back(std::move(branch));
            continue;
        }
        branch.from = without_position(branch.from, joint.position);
        branch.to = without_position(branch.to, joint.position);
        out[static_cast<size_t>(joint.position - 1)].branches.push_back(std::move(branch));
    }
    return out;
}

double neighbour_loop(const Inductances& l, int k) {
    Inductances::Loop around = power_path(l, k, 1);
    around.merge(power_path(l, k + 1, -1));
    l.add(around, fmt::format("buses.source[{}].inductance", k), 1);
    l.add(around, fmt::format("buses.drain[{}].inductance", k), -1);
    return l.between(around, around);
}

bool same_values(const EchoedBranch& a, const EchoedBranch& b) {
    const auto same = [](const EchoedValue& x, const EchoedValue& y) {
        return x.key == y.key && x.value == y.value;
    };
    return a.name == b.name &&
           std::equal(a.values.begin(), a.values.end(), b.values.begin(), b.values.end(), same);
}

/// Positions with the same branches and values are one entry; inner nodes are numbered through, so they do not
/// count.
std::vector<EchoedPosition> grouped(std::vector<EchoedPosition> positions) {
    const auto same = [](const EchoedPosition& a, const EchoedPosition& b) {
        return a.gate_kelvin_loop_h == b.gate_kelvin_loop_h &&
               std::equal(a.branches.begin(), a.branches.end(), b.branches.begin(), b.branches.end(),
                          same_values);
    };
    std::vector<EchoedPosition> out;
    for (EchoedPosition& p : positions) {
        const auto it =
            std::find_if(out.begin(), out.end(), [&](const EchoedPosition& q) { return same(p, q); });
        if (it == out.end())
            out.push_back(std::move(p));
        else
            it->numbers.push_back(p.numbers.front());
    }
    return out;
}

std::vector<EchoedCoupling> echoed_couplings(const Network& network, const Case& input) {
    std::vector<EchoedCoupling> out;
    for (const Element& e : network.elements) {
        if (e.first < 0) continue;
        const Element& a = network.elements[static_cast<size_t>(e.first)];
        const Element& b = network.elements[static_cast<size_t>(e.second)];
        const size_t number = e.rule.index;
        out.push_back({fmt::format("couplings[{}]: {} and {}", number + 1, a.label(), b.label()), e.value,
                       input.couplings[number].coefficient.value_or(e.value / std::sqrt(a.value * b.value))});
    }
    return out;
}

}  // namespace

NetworkEcho network_echo(const Case& input, const OperatingPoint& point) {
    const Network network = build_network(input, point, {.describe = true});
    const Inductances l(network);
    NetworkEcho out;
    out.point = point.name;
    std::vector<EchoedPosition> positions = branches_by_position(network, input.n(), out.shared);
    for (int k = 1; k <= input.n(); ++k) {
        EchoedPosition& p = positions[static_cast<size_t>(k - 1)];
        const Package& package = input.positions[static_cast<size_t>(k - 1)].device.package;
        p.numbers = {k};
        p.gate_kelvin_loop_h = gate_kelvin_loop(l, k, package.kelvin_h.has_value());
        p.beads = beads(network, k);
        if (k < input.n()) out.neighbour_loop_h.push_back(neighbour_loop(l, k));
    }
    out.positions = grouped(std::move(positions));
    Inductances::Loop loop;
    l.add(loop, "power_loop.inductance", 1);
    l.add(loop, "power_loop.dc_link.esl", 1);
    out.power_loop_h = l.between(loop, loop);
    out.power_loop_with_positions_h = power_loop_with_positions(l, loop, input.n());
    out.couplings = echoed_couplings(network, input);
    return out;
}

}  // namespace ringquell
