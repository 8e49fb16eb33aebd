#include "ringquell/pickup.h"

#include <algorithm>
#include <cmath>

#include "bench/mode_views.h"
#include "modes/ranking.h"
#include "ringquell/ports.h"

namespace ringquell {

using namespace internal;

namespace {

/// The chip that swings most, whose phase is 0.
std::complex<double> greatest(const Eigen::VectorXcd& chips) {
    Eigen::Index at = 0;
    chips.cwiseAbs().maxCoeff(&at);
    return chips[at];
}

bool on_drain_side(const std::string& node) {
    return node.starts_with("drain");
}

PairView view_of(const ModeViews& views, const std::string& from, const std::string& to, double step_v) {
    PairView out;
    out.from = from;
    out.to = to;
    out.bus_voltage_across = step_v > 0 && on_drain_side(from) != on_drain_side(to);
    const Eigen::VectorXcd seen = views.seen(from, to), a = views.best(seen);
    const std::complex<double> shown = (seen.transpose() * a)(0), chip = greatest(views.chips(a));
    // A mode in which no chip's gate moves has no volt of it to refer to.
    constexpr double nothing = 1e-12;
    if (std::abs(shown) == 0 || std::abs(chip) <= nothing * std::abs(shown)) return out;
    out.volts = std::abs(shown / chip);
    out.phase_rad = std::arg(shown / chip);
    if (step_v > 0) out.rejection_db = 20 * std::log10(step_v / out.volts);
    return out;
}

std::string pin(const Case& input, int position, const char* which) {
    const bool kelvin =
        input.positions[static_cast<size_t>(position) - 1].device.package.kelvin_h.has_value();
    const bool to_source = std::string(which) == "back" && !kelvin;
    const char* name = std::string(which) == "gate" ? "gate pin" : to_source ? "source pin" : "Kelvin pin";
    return std::string(name) + "[" + std::to_string(position) + "]";
}

std::vector<SwingingPosition> swinging(const ModeViews& views, const Case& input, const Eigen::VectorXcd& a) {
    const Eigen::VectorXcd chips = views.chips(a);
    const std::complex<double> most = greatest(chips);
    std::vector<SwingingPosition> out;
    for (int k = 1; k <= input.n(); ++k) {
        const Eigen::VectorXcd pins = views.seen(pin(input, k, "gate"), pin(input, k, "back"));
        out.push_back({k, chips[k - 1] / most, (pins.transpose() * a)(0) / most});
    }
    return out;
}

/// The position that a node's name ends with; 0 where it is shared.
size_t position_of(const std::string& node) {
    const size_t bracket = node.find('[');
    return bracket == std::string::npos ? 0 : std::stoul(node.substr(bracket + 1));
}

PairView::StandsFor class_of(const std::string& from, const std::string& to) {
    const size_t a = position_of(from), b = position_of(to);
    if (a == 0 && b == 0) return PairView::StandsFor::itself;
    return a == 0 || b == 0 || a == b ? PairView::StandsFor::each_position
                                      : PairView::StandsFor::any_two_positions;
}

/// The same node of two positions.
bool like_nodes(const std::string& from, const std::string& to) {
    return position_of(from) > 0 && position_of(to) > 0 &&
           from.substr(0, from.find('[')) == to.substr(0, to.find('['));
}

/// Of alike positions those of the first two and what is shared: every other pair is one of theirs.
std::vector<std::string> nodes_to_rank(const Case& input, const OperatingPoint& point, bool alike) {
    if (!alike || input.n() <= 2) return accessible_nodes(input, point);
    Case two = input;
    two.positions.resize(2);
    for (auto& bus : two.buses)
        if (bus) {
            bus->inductance_h.resize(1);
            bus->resistance_ohm.resize(1);
            bus->feed_at = 1;
        }
    OperatingPoint of_two = point;
    if (!of_two.leg_capacitance_f.empty()) of_two.leg_capacitance_f.resize(2);
    return accessible_nodes(two, of_two);
}

std::vector<PairView> ranked(const ModeViews& views, const std::vector<std::string>& nodes, bool alike,
                             double step_v, size_t most) {
    std::vector<PairView> out;
    for (size_t i = 0; i < nodes.size(); ++i)
        for (size_t j = i + 1; j < nodes.size(); ++j) {
            // Of alike positions every other pair is of the class of one with position 1.
            const size_t a = position_of(nodes[i]), b = position_of(nodes[j]);
            if (alike && (a == 2 || (b == 2 && a != 1))) continue;
            PairView view = view_of(views, nodes[i], nodes[j], step_v);
            if (view.volts == 0) continue;
            if (alike) view.stands_for = class_of(nodes[i], nodes[j]);
            view.blind_to_common = alike && like_nodes(nodes[i], nodes[j]);
            out.push_back(std::move(view));
        }
    std::stable_sort(out.begin(), out.end(),
                     [](const PairView& a, const PairView& b) { return a.volts > b.volts; });
    if (out.size() > most) out.resize(most);
    return out;
}

double greatest_step(const Case& input, const std::vector<PickedMode>& modes) {
    const std::string without_supply = unpowered_point(input).stage;
    double out = 0;
    for (const PickedMode& m : modes)
        if (m.point.stage != without_supply)
            out = std::max(out, input.operation.bus_voltage_v.value_or(std::abs(m.point.vds_v)));
    return out;
}

/// Bare dice of a module can be touched.
bool inside_device(const Case& input, const std::string& node) {
    const size_t position = position_of(node);
    return is_of_chip(node) && !(input.positions[position - 1].device.package == Package{});
}

void check_nodes(const Case& input, const OperatingPoint& point, const Probe& probe) {
    const Network network =
        network_with_ports(input, point, {{probe.from, probe.to}}, probe.place, "--between");
    if (network.ports.front().across.empty())
        throw InputError(probe.place, "--between",
                         "`" + probe.from + "` and `" + probe.to + "` are one node of this network");
}

}  // namespace

std::vector<PickedMode> modes_at(const Case& input, const OperatingPoint& point) {
    ModeSolver solver(input);
    const Modes modes = solver.solve(point);
    std::vector<PickedMode> out;
    for (const ModeKind kind : {ModeKind::differential, ModeKind::common})
        if (const Mode* worst = nearest_to_target(modes.modes, kind, input.require))
            out.push_back(
                {std::string("worst ") + kind_name(kind) + " mode", point, *worst, modes.by_blocks()});
    const Mode* fastest = nullptr;
    for (const Mode& m : modes.modes)
        if (grows(m) && (!fastest || m.eigenvalue.real() > fastest->eigenvalue.real())) fastest = &m;
    const auto is_fastest = [&](const PickedMode& p) { return p.mode.eigenvalue == fastest->eigenvalue; };
    if (fastest && std::none_of(out.begin(), out.end(), is_fastest))
        out.push_back({"growing mode", point, *fastest, modes.by_blocks()});
    return out;
}

Pickup pickup(const Case& input, const std::vector<PickedMode>& modes, const PickupOptions& options) {
    Pickup out;
    out.title = input.title;
    out.probe = options.probe;
    out.step_v = greatest_step(input, modes);
    for (const PickedMode& picked : modes) {
        if (options.probe) check_nodes(input, picked.point, *options.probe);
        out.alike = picked.by_blocks && input.n() > 1;
        const std::vector<std::string> nodes = nodes_to_rank(input, picked.point, out.alike);
        std::vector<std::string> asked = nodes;
        if (options.probe) asked.insert(asked.end(), {options.probe->from, options.probe->to});
        for (int k = 1; k <= input.n(); ++k)
            asked.insert(asked.end(), {pin(input, k, "gate"), pin(input, k, "back")});
        const ModeViews views(input, picked.point, picked.mode, picked.by_blocks, asked);
        PickupMode one;
        one.picked = picked;
        one.one_of_many = views.many();
        Eigen::VectorXcd shape = views.usual();
        if (options.probe) {
            one.view = view_of(views, options.probe->from, options.probe->to, out.step_v);
            one.view->inside_device =
                inside_device(input, options.probe->from) || inside_device(input, options.probe->to);
            one.view->blind_to_common = out.alike && like_nodes(options.probe->from, options.probe->to);
            if (one.view->volts > 0) shape = views.best(views.seen(options.probe->from, options.probe->to));
            if (options.probe->stands())
                one.with_probe =
                    one.view->volts > 0
                        ? eigenvalue_with_probe(input, picked.point, *options.probe, picked.mode.eigenvalue)
                        : picked.mode.eigenvalue;
        }
        one.positions = swinging(views, input, shape);
        one.ranking = ranked(views, nodes, out.alike, out.step_v, options.ranked);
        out.modes.push_back(std::move(one));
    }
    return out;
}

}  // namespace ringquell
