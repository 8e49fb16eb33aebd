#include "bench/mode_views.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <set>

#include "base/text_lines.h"
#include "modes/along.h"
#include "modes/common_share.h"
#include "modes/examine.h"
#include "modes/probe.h"
#include "network/reducer.h"
#include "numerics/sparse_lu.h"

namespace ringquell::internal {

namespace {

/// Any node serves: only differences are asked for.
constexpr const char* ground = "source rail";

/// `gate pin[3]` into its name and its position; 0 where it has none.
std::pair<std::string, size_t> split_node(const std::string& node) {
    const size_t bracket = node.find('[');
    if (bracket == std::string::npos) return {node, 0};
    size_t position = 0;
    std::from_chars(node.data() + bracket + 1, node.data() + node.size(), position);
    return {node.substr(0, bracket), position};
}

std::string numbered(const std::string& name, size_t position) {
    return fmt::format("{}[{}]", name, position);
}

Network with_potentials(const Case& input, const OperatingPoint& point, Block block,
                        const std::vector<std::string>& nodes) {
    NetworkOptions options;
    options.block = block;
    for (const std::string& node : nodes) options.ports.emplace_back(node, ground);
    return build_network(input, point, options);
}

/// A column for each vector of an eigenvalue of that multiplicity, by inverse iteration of all together.
Eigen::MatrixXcd eigenspace(const Network& network, std::complex<double> eigenvalue, int multiplicity) {
    if (multiplicity == 1) return probe(network, eigenvalue).x;
    const Eigen::SparseMatrix<double> e = network.e() * natural, a = network.a();
    PencilLu lu(e, a);
    constexpr double beside = 1e-10;
    factor_beside(lu, eigenvalue / natural, beside);
    Eigen::MatrixXcd x(network.size(), multiplicity);
    for (Eigen::Index k = 0; k < x.cols(); ++k)
        for (Eigen::Index i = 0; i < x.rows(); ++i)
            x(i, k) = std::sin(1.7 * static_cast<double>((i + 1) * (k + 1)) + static_cast<double>(k));
    constexpr int steps = 4;
    for (int step = 0; step < steps; ++step)
        for (Eigen::Index k = 0; k < x.cols(); ++k) {
            Eigen::VectorXcd next = e * x.col(k);
            lu.solve(next);
            for (int twice = 0; twice < 2; ++twice)
                for (Eigen::Index before = 0; before < k; ++before)
                    next -= x.col(before) * x.col(before).dot(next);
            x.col(k) = next.normalized();
        }
    return x;
}

/// Other vectors of the same space, of energy 1 and without a common part in it (Gram and Schmidt).
void make_energies_one(const Network& network, Eigen::MatrixXcd& x) {
    std::vector<Eigen::RowVectorXcd> rows;
    for_each_amplitude(network, [&](const EnergyAmplitude& a) {
        Eigen::RowVectorXcd amplitude = Eigen::RowVectorXcd::Zero(x.cols());
        for (const auto& [i, s] : a.right) amplitude += s * x.row(i);
        rows.push_back(amplitude * std::sqrt(a.value(network)));
    });
    Eigen::MatrixXcd energy(static_cast<Eigen::Index>(rows.size()), x.cols());
    for (size_t i = 0; i < rows.size(); ++i) energy.row(static_cast<Eigen::Index>(i)) = rows[i];
    for (Eigen::Index k = 0; k < x.cols(); ++k) {
        for (int twice = 0; twice < 2; ++twice)
            for (Eigen::Index before = 0; before < k; ++before) {
                const std::complex<double> shared = energy.col(before).dot(energy.col(k));
                energy.col(k) -= shared * energy.col(before);
                x.col(k) -= shared * x.col(before);
            }
        const double length = energy.col(k).norm();
        energy.col(k) /= length;
        x.col(k) /= length;
    }
}

}  // namespace

bool is_of_chip(const std::string& node) {
    constexpr std::array chip{"gate", "drain", "source", "mid", "JFET gate", "JFET source"};
    const auto [name, position] = split_node(node);
    return position > 0 && std::find(chip.begin(), chip.end(), name) != chip.end();
}

std::vector<std::string> accessible_nodes(const Case& input, const OperatingPoint& point) {
    std::vector<std::string> names = node_names(input, point);
    std::erase_if(names, is_of_chip);
    // A chip without a package lies at its pins, which then have its name.
    for (int k = 1; k <= input.n(); ++k)
        for (const char* pin : {"gate pin", "drain pin", "source pin", "Kelvin pin"}) {
            const bool kelvin =
                input.positions[static_cast<size_t>(k) - 1].device.package.kelvin_h.has_value();
            const std::string name = fmt::format("{}[{}]", pin, k);
            if (std::string(pin) == "Kelvin pin" && !kelvin) continue;
            if (std::find(names.begin(), names.end(), name) == names.end()) names.push_back(name);
        }
    // Drain, gate, Kelvin, source.
    std::stable_sort(names.begin(), names.end(), [](const std::string& a, const std::string& b) {
        return lower_case(a) < lower_case(b);
    });
    std::vector<std::string> out;
    std::set<Incidence> seen;
    for (const Port& port : with_potentials(input, point, Block::whole, names).ports)
        if (seen.insert(port.across).second) out.push_back(port.from);
    return out;
}

ModeViews::ModeViews(const Case& input, const OperatingPoint& point, const Mode& mode, bool by_blocks,
                     const std::vector<std::string>& nodes)
    : positions_(input.n()), block_(by_blocks) {
    if (by_blocks)
        solve_block(input, point, mode, nodes);
    else
        solve_whole(input, point, mode, nodes);
}

void ModeViews::solve_block(const Case& input, const OperatingPoint& point, const Mode& mode,
                            const std::vector<std::string>& nodes) {
    const bool differential = mode.kind == ModeKind::differential && input.n() > 1;
    sum_is_zero_ = differential;
    if (differential) coordinates_ = input.n();
    const Block block = differential ? Block::differential : Block::common;
    std::vector<std::string> in_block{"gate[1]", "source[1]"}, known;
    for (const std::string& node : nodes) {
        const auto [name, position] = split_node(node);
        // A row of no inductance is a star, whose taps are its rail.
        const size_t tap = name.find(" tap");
        std::string here = position > 0 ? numbered(name, 1) : name;
        if (tap != std::string::npos && name.ends_with(" tap")) {
            if (known.empty()) known = node_names(input, point);
            const std::string rail = name.substr(0, tap) + " rail";
            if (std::find(known.begin(), known.end(), rail) != known.end()) here = rail;
        }
        in_block.push_back(here);
    }
    const Network network = with_potentials(input, point, block, in_block);
    const Eigen::VectorXcd x = probe(network, mode.eigenvalue).x;
    const auto potential_of = [&](size_t k) { return along(network.ports[k].across, x); };
    chips_ = Eigen::MatrixXcd::Constant(1, 1, potential_of(0) - potential_of(1));
    for (size_t k = 0; k < nodes.size(); ++k)
        of_block_[nodes[k]] = {split_node(nodes[k]).second, potential_of(k + 2)};
}

void ModeViews::solve_whole(const Case& input, const OperatingPoint& point, const Mode& mode,
                            const std::vector<std::string>& nodes) {
    std::vector<std::string> all = nodes;
    for (size_t k = 1; k <= input.positions.size(); ++k) {
        all.push_back(numbered("gate", k));
        all.push_back(numbered("source", k));
    }
    const Network network = with_potentials(input, point, Block::whole, all);
    Eigen::MatrixXcd x = eigenspace(network, mode.eigenvalue, mode.multiplicity);
    make_energies_one(network, x);
    coordinates_ = x.cols();
    const auto potential_of = [&](size_t k) {
        Eigen::VectorXcd out = Eigen::VectorXcd::Zero(x.cols());
        for (const auto& [i, sign] : network.ports[k].across) out += sign * x.row(i).transpose();
        return out;
    };
    for (size_t k = 0; k < nodes.size(); ++k) potentials_[nodes[k]] = potential_of(k);
    chips_.resize(input.n(), x.cols());
    for (size_t k = 0; k < input.positions.size(); ++k) {
        const size_t gate = nodes.size() + 2 * k;
        chips_.row(static_cast<Eigen::Index>(k)) = (potential_of(gate) - potential_of(gate + 1)).transpose();
    }
}

Eigen::VectorXcd ModeViews::potential(const std::string& node) const {
    if (!block_) return potentials_.at(node);
    const OfBlock& there = of_block_.at(node);
    Eigen::VectorXcd out = Eigen::VectorXcd::Zero(coordinates_);
    if (!sum_is_zero_)
        out[0] = there.potential;
    else if (there.position > 0)
        out[static_cast<Eigen::Index>(there.position) - 1] = there.potential;
    return out;
}

Eigen::VectorXcd ModeViews::seen(const std::string& from, const std::string& to) const {
    const Eigen::VectorXcd a = potential(from), b = potential(to);
    Eigen::VectorXcd out = a - b;
    // What rounding leaves of two equal potentials is nothing.
    constexpr double rounding = 1e-11;
    if (out.norm() <= rounding * std::max({a.norm(), b.norm(), chips_.norm()})) out.setZero();
    return out;
}

Eigen::VectorXcd ModeViews::best(const Eigen::VectorXcd& seen) const {
    Eigen::VectorXcd out = seen.conjugate();
    if (sum_is_zero_) out.array() -= out.mean();
    const double length = out.norm();
    if (length > 0) out /= length;
    return out;
}

Eigen::VectorXcd ModeViews::usual() const {
    Eigen::VectorXcd first = Eigen::VectorXcd::Zero(coordinates_);
    first[0] = 1;
    if (block_) return best(first);
    Eigen::Index most = 0;
    chips_.rowwise().norm().maxCoeff(&most);
    const Eigen::VectorXcd out = best(chips_.row(most).transpose());
    return out.norm() > 0 ? out : first;
}

Eigen::VectorXcd ModeViews::chips(const Eigen::VectorXcd& coordinates) const {
    if (!block_) return chips_ * coordinates;
    if (sum_is_zero_) return chips_(0, 0) * coordinates;
    return Eigen::VectorXcd::Constant(positions_, chips_(0, 0) * coordinates[0]);
}

}  // namespace ringquell::internal
