#include "network/cache.h"

#include <algorithm>
#include <array>
#include <string>
#include <string_view>

#include "devices/gate_current.h"

namespace ringquell::internal {

namespace {

struct DeviceKey {
    std::string_view name;  // behind "device."
    double (*get)(const DeviceValues&);
};

/// Everything of DeviceValues that stands in a network.
constexpr std::array<DeviceKey, 20> device_keys{{
    {"gate_resistance", [](const DeviceValues& v) { return v.gate_resistance_ohm; }},
    {"capacitance.cgs", [](const DeviceValues& v) { return v.mosfet.cgs_f; }},
    {"capacitance.cgd", [](const DeviceValues& v) { return v.mosfet.cgd_f; }},
    {"capacitance.cds", [](const DeviceValues& v) { return v.mosfet.cds_f; }},
    {"capacitance.output_resistance", [](const DeviceValues& v) { return v.mosfet.output_resistance_ohm; }},
    {"channel.transconductance", [](const DeviceValues& v) { return v.mosfet.transconductance_s; }},
    {"channel.output_conductance", [](const DeviceValues& v) { return v.mosfet.output_conductance_s; }},
    {"mosfet.capacitance.cgs", [](const DeviceValues& v) { return v.mosfet.cgs_f; }},
    {"mosfet.capacitance.cgd", [](const DeviceValues& v) { return v.mosfet.cgd_f; }},
    {"mosfet.capacitance.cds", [](const DeviceValues& v) { return v.mosfet.cds_f; }},
    {"mosfet.capacitance.output_resistance",
     [](const DeviceValues& v) { return v.mosfet.output_resistance_ohm; }},
    {"mosfet.channel.transconductance", [](const DeviceValues& v) { return v.mosfet.transconductance_s; }},
    {"mosfet.channel.output_conductance",
     [](const DeviceValues& v) { return v.mosfet.output_conductance_s; }},
    {"jfet.gate_resistance", [](const DeviceValues& v) { return v.jfet_gate_resistance_ohm; }},
    {"jfet.capacitance.cgs", [](const DeviceValues& v) { return v.jfet.cgs_f; }},
    {"jfet.capacitance.cgd", [](const DeviceValues& v) { return v.jfet.cgd_f; }},
    {"jfet.capacitance.cds", [](const DeviceValues& v) { return v.jfet.cds_f; }},
    {"jfet.capacitance.output_resistance",
     [](const DeviceValues& v) { return v.jfet.output_resistance_ohm; }},
    {"jfet.channel.transconductance", [](const DeviceValues& v) { return v.jfet.transconductance_s; }},
    {"jfet.channel.output_conductance", [](const DeviceValues& v) { return v.jfet.output_conductance_s; }},
}};

bool same_zeros(const DeviceValues& a, const DeviceValues& b) {
    const auto same = [](double x, double y) { return (x == 0) == (y == 0); };
    const auto die = [&](const DieValues& x, const DieValues& y) {
        return same(x.transconductance_s, y.transconductance_s) &&
               same(x.output_conductance_s, y.output_conductance_s) && same(x.cgs_f, y.cgs_f) &&
               same(x.cgd_f, y.cgd_f) && same(x.cds_f, y.cds_f) &&
               same(x.output_resistance_ohm, y.output_resistance_ohm);
    };
    return die(a.mosfet, b.mosfet) && die(a.jfet, b.jfet) &&
           same(a.gate_resistance_ohm, b.gate_resistance_ohm) &&
           same(a.jfet_gate_resistance_ohm, b.jfet_gate_resistance_ohm);
}

}  // namespace

NetworkCache::NetworkCache(const Case& input) : input_(input) {
    case_changed();
}

void NetworkCache::case_changed() {
    entries_.clear();
    saturates_ = has_saturating_bead(input_);
}

NetworkCache::~NetworkCache() = default;

NetworkCache::Entry& NetworkCache::at(const OperatingPoint& point, const NetworkOptions& options) {
    constexpr size_t most =
        32;  // edges, complementary states, blocks, swept or not, a few orders of capacitances
    for (auto it = entries_.rbegin(); it != entries_.rend(); ++it)
        if ((*it)->take(point, options, saturates_)) return **it;
    if (entries_.size() >= most) entries_.erase(entries_.begin());
    entries_.push_back(std::unique_ptr<Entry>(new Entry(input_, point, options)));
    entries_.back()->reducers_ = &reducers_;
    return *entries_.back();
}

NetworkCache::Entry::Entry(const Case& input, const OperatingPoint& point, const NetworkOptions& options)
    : network(build_network(input, point, options)),
      values(Reducer::element_values(network)),
      built_at_(point),
      options_(options) {
    if (options.block == Block::common) shared_ = input.n();
    constexpr std::string_view prefix = "device.";
    for (size_t i = 0; i < network.elements.size(); ++i) {
        const Element& e = network.elements[i];
        if (e.kind == ElementKind::capacitance) capacitances_.push_back(i);
        if (e.name == "power_loop.complementary.capacitance") bindings_.push_back({i, 0, nullptr});
        if (e.position == 0 || !e.name.starts_with(prefix)) continue;
        const auto key = std::find_if(device_keys.begin(), device_keys.end(),
                                      [name = std::string_view(e.name).substr(prefix.size())](
                                          const DeviceKey& k) { return k.name == name; });
        if (key != device_keys.end()) bindings_.push_back({i, static_cast<size_t>(e.position) - 1, key->get});
    }
    std::stable_sort(capacitances_.begin(), capacitances_.end(), [this](size_t x, size_t y) {
        return network.elements[x].value > network.elements[y].value;
    });
}

bool NetworkCache::Entry::capacitances_keep_order() const {
    for (size_t i = 0; i + 1 < capacitances_.size(); ++i) {
        const double here = network.elements[capacitances_[i]].value,
                     next = network.elements[capacitances_[i + 1]].value;
        if (here < next || (here == next && capacitances_[i] > capacitances_[i + 1])) return false;
    }
    return true;
}

void NetworkCache::Entry::set(size_t element, double value) {
    Element& e = network.elements[element];
    changed_.emplace_back(element, e.value);
    e.value = value;
    values[element] = e.in_e() ? value * natural : value;
}

bool NetworkCache::Entry::take(const OperatingPoint& point, const NetworkOptions& options, bool saturates) {
    if (options.block != options_.block || options.keep_gate_resistor != options_.keep_gate_resistor ||
        point.edge != built_at_.edge || point.complementary != built_at_.complementary ||
        point.devices.size() != built_at_.devices.size() ||
        point.leg_capacitance_f != built_at_.leg_capacitance_f ||
        (point.complementary_capacitance_f == 0) != (built_at_.complementary_capacitance_f == 0) ||
        (saturates && point.gate_current_a != built_at_.gate_current_a))
        return false;
    for (size_t i = 0; i < point.devices.size(); ++i)
        if (!same_zeros(point.devices[i], built_at_.devices[i])) return false;
    for (auto it = changed_.rbegin(); it != changed_.rend(); ++it) {
        Element& e = network.elements[it->first];
        e.value = it->second;
        values[it->first] = e.in_e() ? e.value * natural : e.value;
    }
    changed_.clear();
    for (const Binding& b : bindings_) {
        Element& e = network.elements[b.element];
        if (b.of_device == nullptr) {
            e.value = point.complementary_capacitance_f / shared_;
        } else {
            const double value = b.of_device(point.device(static_cast<int>(b.position)));
            e.value = e.reciprocal ? 1 / value : value;
        }
        values[b.element] = e.in_e() ? e.value * natural : e.value;
    }
    return capacitances_keep_order();
}

const Reducer& NetworkCache::Entry::reduced() {
    if (!reducer || !reducer->holds_for(values.data())) {
        constexpr size_t most = 32;
        const auto fitting = std::find_if(reducers_->begin(), reducers_->end(),
                                          [this](const auto& r) { return r->fits(network); });
        if (fitting != reducers_->end()) {
            reducer = *fitting;
        } else {
            if (reducers_->size() >= most) reducers_->erase(reducers_->begin());
            reducer = std::make_shared<Reducer>(network);
            reducers_->push_back(reducer);
        }
    }
    reducer->evaluate(values.data());
    return *reducer;
}

}  // namespace ringquell::internal
