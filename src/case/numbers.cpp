#include "ringquell/numbers.h"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <set>
#include <type_traits>

#include "base/nearest.h"
#include "case/describe.h"
#include "case/key.h"

namespace ringquell {

namespace internal {
namespace {

/// The visitor of describe() that finds numbers: those whose key is the target, or with an empty target all.
/// C is Case, or const Case where the numbers are only looked at.
template <class C>
class Finder : Visitor {
  public:
    template <class T>
    using Of = std::conditional_t<std::is_const_v<C>, const T, T>;
    using Take = std::function<void(const std::string& key, NumberSpec, Of<double>&)>;
    Finder(std::string target, Take take) : target_(std::move(target)), take_(std::move(take)) {}

    void number(const char* key, Of<double>& x, NumberSpec spec) { offer(key, spec, x); }
    void number(const char* key, Of<std::optional<double>>& x, NumberSpec spec) {
        if (x) offer(key, spec, *x);
    }
    void integer(const char*, int) {}
    void boolean(const char*, bool) {}
    void text(const char*, const std::string&) {}
    void texts(const char*, const std::vector<std::string>&) {}
    template <class E, class N>
    void choice(const char*, E, const N&, bool) {}
    void transfer_curves(const char*, const std::vector<TransferCurve>&) {}
    void capacitance_rows(const char*, const CapacitanceTable&) {}
    void pairs(const char*, const std::vector<std::pair<double, double>>&, Dimension, Dimension) {}
    void durations(const char*, const std::map<std::string, double>&) {}
    void limits(const char* key, Of<double>& low, Of<double>& high, Dimension dimension) {
        offer(std::string(key) + "[1]", {dimension}, low);
        offer(std::string(key) + "[2]", {dimension}, high);
    }
    void temperatures(const char* key, Of<std::vector<double>>& x) {
        for (Of<double>& t : x) offer(key, degrees_celsius, t);
    }
    void edges(const char* key, Of<PerEdge>& x) {
        if (target_ == path_of(key) || target_.empty()) {
            offer(key, ohms, x.turn_on);
            offer(key, ohms, x.turn_off);
        }
        inside(key, [&] {
            offer("turn_on", ohms, x.turn_on);
            offer("turn_off", ohms, x.turn_off);
        });
    }
    void die_resistance(const char* key, Of<DieResistance>& x, bool) {
        offer(key, ohms, x.value_ohm);
        if (!target_.empty())
            inside(key, [&] {
                offer("value", ohms, x.value_ohm);
                offer("at", degrees_celsius, x.at_degc);
                offer("per_kelvin", any_sign({Dimension::per_kelvin}), x.per_kelvin);
            });
    }
    void channel(const char* key, Of<Die>& die) { block(key, die, true, DescribeChannel{}); }
    void die_capacitance(const char* key, Of<Die>& die) { block(key, die, true, DescribeDieCapacitance{}); }
    void complementary_capacitance(const char* key, Of<ComplementaryDevice>& x) {
        if (!x.curve) offer(key, farads, x.capacitance_f);
    }
    void sections(Of<std::vector<BeadSection>>& sections) {
        if (sections.size() == 1) describe(*this, sections.front());
        if (sections.size() == 1 && target_.empty()) return;
        for (size_t i = 0; i < sections.size(); ++i)
            inside(fmt::format("sections[{}]", i + 1), [&] { describe(*this, sections[i]); });
    }
    void segments(const char* key, Of<std::vector<double>>& x, Dimension dimension) {
        for (size_t i = 0; i < x.size(); ++i) {
            if (!segment || *segment == static_cast<int>(i) + 1) offer(key, {dimension}, x[i]);
            if (!target_.empty() && !segment) offer(fmt::format("{}[{}]", key, i + 1), {dimension}, x[i]);
        }
    }
    template <class T, class D = Describe>
    void block(const std::string& key, T& x, bool = false, D describer = {}) {
        inside(key, [&] { describer(*this, x); });
    }
    template <class T, class D = Describe>
    void block(const std::string& key, std::optional<T>& x, bool = false, D describer = {}) {
        if (x) inside(key, [&] { describer(*this, *x); });
    }
    template <class T, class D = Describe>
    void block(const std::string& key, const std::optional<T>& x, bool = false, D describer = {}) {
        if (x) inside(key, [&] { describer(*this, *x); });
    }

    std::optional<int> segment;  // of a bus, the one that is meant

  private:
    std::string path_of(const std::string& key) const { return join_key(path_, key); }
    void offer(const std::string& key, NumberSpec spec, Of<double>& x) {
        const std::string path = path_of(key);
        if (target_.empty() || target_ == path) take_(path, spec, x);
    }
    template <class F>
    void inside(const std::string& key, F visit) {
        const std::string outer = path_, path = path_of(key);
        if (!target_.empty() &&
            !(target_.size() > path.size() && target_.starts_with(path) && target_[path.size()] == '.'))
            return;
        path_ = path;
        visit();
        path_ = outer;
    }

    std::string target_;
    Take take_;
    std::string path_;
};

template <class C>
void visit_shared(Finder<C>& finder, C& c) {
    finder.block("buses", c.buses, false, DescribeBuses{});
    finder.block("driver", c.driver);
    finder.block("power_loop", c.power_loop);
    for (size_t i = 0; i < c.couplings.size(); ++i)
        finder.block(fmt::format("couplings[{}]", i + 1), c.couplings[i], false, [](auto& v, auto& x) {
            v.number("coefficient", x.coefficient, any_sign(plain));
            v.number("mutual", x.mutual_h, any_sign(henries));
        });
    finder.block("operation", c.operation);
    for (size_t i = 0; i < c.operation.points.size(); ++i)
        finder.block("operation", c.operation.points[i], false,
                     [&](auto& v, auto& x) { v.block(fmt::format("points[{}]", i + 1), x); });
    finder.block("require", c.require);
}

template <class C>
void visit_devices_of_points(Finder<C>& finder, C& c, std::optional<int> position) {
    for (auto& point : c.operation.points)
        for (size_t k = 0; k < point.devices.size(); ++k)
            if (!position || point.devices.size() == 1 || *position == static_cast<int>(k) + 1)
                finder.block("device", point.devices[k]);
}

/// Keys that a case may have: with them the message about an absent one is "not here" and not "unknown".
std::set<std::string> all_keys() {
    Case full;
    full.positions.resize(1);
    Position& p = full.positions.front();
    p.snubber = p.gate_shunt = p.gate_drain = p.tab = SeriesRlc{};
    p.common_mode_choke = CommonModeChoke{0, 0, 0.0};
    p.leg.emplace().dc_link.emplace();
    p.gate_path.diode.emplace();
    p.gate_path.bead.emplace().sections.resize(1);
    p.kelvin_path->bead = p.gate_path.bead;
    p.device.package.kelvin_h = 0;
    p.junction_temperature_degc = 0;
    full.driver.bypass = full.driver.turn_off_bypass = Capacitor{};
    full.power_loop.dc_link.emplace();
    full.power_loop.load.emplace().inductance_h = 0;
    for (auto& bus : full.buses) bus = Bus{{0.0}, {0.0}, 1};
    full.operation.drive = Drive{0, 0, 0.0, 0.0};
    full.operation.soft_turn_off = SoftTurnOff{0, 0.0};
    full.operation.path.emplace().peak_current_a = 0;
    full.operation.bus_voltage_v = full.operation.load_current_a = 0;
    full.require.common_damping = full.require.passive_damping = full.require.gain_margin = 0;
    std::set<std::string> out;
    for (const DeviceKind kind : {DeviceKind::mosfet, DeviceKind::cascode})
        for (const Channel& channel :
             {Channel{FixedChannel{}}, Channel{FormulaChannel{}}, Channel{TransferChannel{}}}) {
            p.device.kind = kind;
            p.device.mosfet.channel = p.device.jfet.channel = channel;
            for (Die* die : {&p.device.mosfet, &p.device.jfet}) {
                if (auto* formula = std::get_if<FormulaChannel>(&die->channel))
                    formula->output_slope_per_v = 0;
                if (auto* curves = std::get_if<TransferChannel>(&die->channel))
                    curves->output_slope_per_v = 0;
            }
            p.device.mosfet.avalanche_voltage_v = 0;
            for (std::string& key : number_keys(full)) out.insert(std::move(key));
        }
    return out;
}

bool exists_elsewhere(const std::string& target) {
    static const std::set<std::string> keys = all_keys();
    return keys.contains(target);
}

/// A key as the visitor wants it, without the number of the position or segment that it is of.
struct Target {
    std::string key;
    bool of_positions = false;
    bool of_devices = false;
    std::optional<int> position, segment;
};

Target target_of(std::string_view key, int n) {
    const Place nowhere;
    const std::string name(key);
    std::vector<KeyPart> parts = split_key(key, nowhere);
    Target out;
    out.of_positions = is_position_key(parts.front().name);
    out.of_devices = parts.front().name == "device";
    if (out.of_positions && parts.front().index) {
        out.position = parts.front().index;
        parts.front().index.reset();
        if (*out.position > n)
            throw InputError(nowhere, name,
                             fmt::format("position {} is out of range 1 to {}", *out.position, n));
    }
    if (parts.front().name == "buses" && parts.size() == 3 && parts[1].index) {
        out.segment = parts[1].index;
        parts[1].index.reset();
        if (*out.segment > n - 1)
            throw InputError(nowhere, name,
                             fmt::format("segment {} is out of range 1 to {}", *out.segment, n - 1));
    }
    for (const KeyPart& part : parts) {
        out.key = join_key(out.key, part.name);
        if (part.index) out.key += fmt::format("[{}]", *part.index);
    }
    return out;
}

template <class C, class Value>
NumberOf<Value> find(C& in, std::string_view key) {
    const Target target = target_of(key, in.n());
    NumberOf<Value> out;
    out.key = key;
    Finder<C> finder(target.key, [&](const std::string&, NumberSpec spec, Value& x) {
        out.dimension = spec.dimension;
        out.may_be_negative = spec.sign == Sign::any;
        if (std::find(out.values.begin(), out.values.end(), &x) == out.values.end()) out.values.push_back(&x);
    });
    finder.segment = target.segment;
    if (target.of_positions) {
        for (int k = 1; k <= in.n(); ++k)
            if (!target.position || *target.position == k)
                describe(finder, in.positions[static_cast<size_t>(k) - 1]);
        if (target.of_devices) visit_devices_of_points(finder, in, target.position);
    } else {
        visit_shared(finder, in);
    }
    if (!out.values.empty()) return out;
    if (exists_elsewhere(target.key))
        throw InputError({}, out.key,
                         target.position ? fmt::format("position {} has no such value", *target.position)
                                         : "this case has no such value");
    throw InputError({}, out.key, "no number has this key" + suggestion(target.key, number_keys(in)));
}

}  // namespace
}  // namespace internal

using namespace internal;

std::vector<std::string> number_keys(const Case& in) {
    std::vector<std::string> out;
    std::set<std::string> seen;
    Finder<const Case> finder("", [&](const std::string& key, NumberSpec, const double&) {
        if (seen.insert(key).second) out.push_back(key);
    });
    for (const Position& p : in.positions) describe(finder, p);
    visit_devices_of_points(finder, in, std::nullopt);
    visit_shared(finder, in);
    return out;
}

Number find_number(Case& in, std::string_view key) {
    return find<Case, double>(in, key);
}

ConstNumber find_number(const Case& in, std::string_view key) {
    return find<const Case, const double>(in, key);
}

void give_points_own_devices(Case& in, std::string_view key) {
    if (!key.starts_with("device[")) return;
    for (Point& point : in.operation.points)
        if (point.devices.size() == 1)
            point.devices.resize(static_cast<size_t>(in.n()), point.devices.front());
}

}  // namespace ringquell
