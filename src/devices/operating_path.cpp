#include "ringquell/operating_path.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "case/enum_names.h"
#include "devices/point_maker.h"

namespace ringquell {

using namespace internal;

const char* edge_name(Edge edge) {
    return name_of(edge);
}

namespace {

/// Without an exponent: 0.00005, not 5e-05.
std::string plain_slope(double per_v) {
    std::string out = fmt::format("{:.6f}", per_v);
    while (out.back() == '0') out.pop_back();
    return out;
}

constexpr double first_slope = assumed_output_slopes_per_v.front();

bool slope_is_assumed(const Die& die) {
    const auto* formula = std::get_if<FormulaChannel>(&die.channel);
    const auto* curves = std::get_if<TransferChannel>(&die.channel);
    return (formula != nullptr && !formula->output_slope_per_v) ||
           (curves != nullptr && !curves->output_slope_per_v);
}

bool slope_is_assumed(const Device& device) {
    return slope_is_assumed(device.mosfet) ||
           (device.kind == DeviceKind::cascode && slope_is_assumed(device.jfet));
}

bool slope_is_assumed(const Case& input) {
    const auto any = [](const std::vector<Device>& devices) {
        return std::any_of(devices.begin(), devices.end(),
                           [](const Device& d) { return slope_is_assumed(d); });
    };
    return std::any_of(input.positions.begin(), input.positions.end(),
                       [](const Position& p) { return slope_is_assumed(p.device); }) ||
           std::any_of(input.operation.points.begin(), input.operation.points.end(),
                       [&](const Point& p) { return any(p.devices); });
}

/// The points at one junction temperature, with one assumed output slope.
class PathWalker {
  public:
    PathWalker(const Case& input, double temperature_degc, double slope_per_v, Warnings& warnings,
               std::vector<OperatingPoint>& points, const std::string* only = nullptr)
        : input_(input),
          operation_(input.operation),
          temperature_degc_(temperature_degc),
          slope_per_v_(slope_per_v),
          variant_(name_of_variant()),
          warnings_(warnings),
          points_(points),
          only_(only),
          maker_(input, temperature_degc, variant_, warnings) {}

    void run() {
        for (const Point& p : operation_.points)
            if (wanted(p.name + variant_)) add_explicit(p);
        if (operation_.path && (only_ == nullptr || points_.empty())) walk();
    }

  private:
    std::string name_of_variant() const {
        std::string out;
        if (operation_.junction_temperatures_degc.size() > 1)
            out += fmt::format(" at {:.6g} degC", temperature_degc_);
        if (slope_per_v_ != first_slope)
            out += fmt::format(", output_slope {} /V assumed", plain_slope(slope_per_v_));
        return out;
    }

    const ParallelDevices& own() {
        if (own_) return *own_;
        own_ = prepare_devices(input_, {}, temperature_degc_, slope_per_v_);
        const Device& device = input_.positions.front().device;
        for (const PreparedDevice& d : own_->distinct) {
            const bool jfet = d.kind == DeviceKind::jfet;
            if (!jfet && !d.jfet) continue;
            const PreparedDie& die = jfet ? d.mosfet : *d.jfet;
            const auto* table =
                std::get_if<CapacitanceTable>(&(jfet ? device.mosfet : device.jfet).capacitance);
            if (die.capacitance.is_table() && table != nullptr && !table->gate_voltage_v)
                warnings_.add(
                    die.key + ".capacitance.gate_voltage",
                    fmt::format("not given: the curves are taken to have been measured at the JFET's "
                                "threshold, {:.4g} V, since it conducts at 0 V",
                                die.capacitance.gate_voltage_v()));
        }
        return *own_;
    }

    /// A point of the walk, the number-th of its stage.
    struct Step {
        std::string stage;
        int number;
        Edge edge;
        double vds_v, current_a;
    };

    StaticsQuery query(const Step& step) const {
        return {step.vds_v, step.current_a, fmt::format("{} {}{}", step.stage, step.number, variant_),
                operation_.place};
    }

    /// Of one point alone nothing is computed for the others.
    bool wanted(const std::string& name) const { return only_ == nullptr || name == *only_; }
    bool wanted(const Step& step) const {
        return only_ == nullptr || wanted(fmt::format("{} {}{}", step.stage, step.number, variant_));
    }

    void add(OperatingPoint point, const ParallelDevices& devices, const std::vector<DeviceBias>& bias,
             std::optional<double> gate_current_a = {}) {
        points_.push_back(maker_.make(std::move(point), devices, bias, gate_current_a));
    }

    void add_explicit(const Point& p) {
        OperatingPoint point;
        point.name = p.name;
        point.stage = p.name;
        point.edge = p.edge;
        point.vds_v = p.vds_v;
        point.current_a = p.current_a;
        point.complementary = p.complementary;
        std::optional<ParallelDevices> of_point;
        if (!p.devices.empty())
            of_point = prepare_devices(input_, p.devices, temperature_degc_, slope_per_v_);
        const ParallelDevices& devices = of_point ? *of_point : own();
        std::vector<DeviceBias> bias;
        if (devices.has_statics())
            bias = static_bias(devices, {p.vds_v, p.current_a, p.name + variant_, p.place});
        add(std::move(point), devices, bias, p.gate_current_a);
    }

    static OperatingPoint walked(const Step& step) {
        OperatingPoint out;
        out.name = fmt::format("{} {}", step.stage, step.number);
        out.stage = step.stage;
        out.edge = step.edge;
        out.vds_v = step.vds_v;
        out.current_a = step.current_a;
        return out;
    }

    void add_static(const Step& step, Complementary complementary, bool judged = true) {
        if (!wanted(step)) return;
        OperatingPoint point = walked(step);
        point.complementary = complementary;
        point.judged = judged;
        static const std::vector<DeviceBias> none;
        add(std::move(point), own(), own().has_statics() ? known_bias(query(step)) : none);
    }

    /// Both edges pass through the same voltages and currents.
    const std::vector<DeviceBias>& known_bias(const StaticsQuery& query) {
        const auto known = std::find_if(biases_.begin(), biases_.end(), [&](const auto& b) {
            return b.first.first == query.vds_v && b.first.second == query.current_a;
        });
        if (known != biases_.end()) return known->second;
        return biases_.emplace_back(std::pair{query.vds_v, query.current_a}, static_bias(own(), query))
            .second;
    }

    // ---- the default walk ----

    /// Where the voltage transfer begins; the gate voltage that the curves know is in `gate_high_v_`.
    double lowest_voltage(const std::string& stage) {
        if (!own().has_statics()) return fixed_on_state_voltage();
        gate_high_v_ = known_gate_voltage(own(), operation_.drive->high_v);
        if (gate_high_v_ < operation_.drive->high_v)
            warnings_.add("operation.drive.high", fmt::format("the transfer curve ends at {:.4g} V, below "
                                                              "`drive.high`, {:.4g} V; the devices are taken "
                                                              "as fully on at its end",
                                                              gate_high_v_, operation_.drive->high_v));
        return on_state_voltage(own(), gate_high_v_, query({stage, 1, Edge::turn_on, bus_v_, load_a_}));
    }

    double fixed_on_state_voltage() {
        double conductance = 0;
        for (size_t k = 0; k < own().distinct.size(); ++k)
            conductance += own().count[k] * own().distinct[k].mosfet.channel.fixed()->output_conductance_s;
        const bool below = conductance > 0 && load_a_ / conductance < bus_v_;
        constexpr double otherwise =
            0.01;  // share of the bus voltage; fixed values are the same at any voltage
        const double vds = below ? load_a_ / conductance : otherwise * bus_v_;
        warnings_.add(
            "operation.path",
            fmt::format(
                "a fixed channel has no curve: the same device values hold at every point of the walk, and "
                "its "
                "lowest voltage, {:.3g} V, is {}",
                vds,
                below
                    ? "the load current over the output conductance"
                    : "1 % of the bus voltage (the load current over the output conductance exceeds the bus "
                      "voltage)"));
        return vds;
    }

    /// From low to the bus voltage in geometric steps, k from 0.
    double geometric(double low, int k) const {
        if (k == operation_.path->steps - 1) return bus_v_;
        return low * std::pow(bus_v_ / low, static_cast<double>(k) / (operation_.path->steps - 1));
    }

    bool held_by_request(const std::string& stage) const {
        const auto& names = input_.require.judge_held;
        return std::any_of(names.begin(), names.end(),
                           [&](const std::string& name) { return name == stage || name == "all"; });
    }

    /// Is it known how long a cascode's gate dwells where both dice are saturated?
    bool dwell_is_known(const std::string& stage, Edge edge) {
        if (operation_.path->durations_s.contains(stage)) return true;
        if (!own().has_statics() || !operation_.drive) return false;
        double threshold_v = own().distinct.front().mosfet.channel.threshold_v();
        for (const PreparedDevice& d : own().distinct)
            threshold_v = std::min(threshold_v, d.mosfet.channel.threshold_v());
        return edge == Edge::turn_on || operation_.drive->low_v < threshold_v;
    }

    /// A cascode's stages through both dice saturated are judged in passing; everything else is held.
    bool judged_held(const std::string& stage, Edge edge) {
        if (!cascode_ || stage.ends_with(" voltage") || stage.ends_with(" onset")) return true;
        if (operation_.path->plateau && stage.ends_with(" plateau")) return true;
        return held_by_request(stage) || !dwell_is_known(stage, edge);
    }

    void walk() {
        if (!operation_.bus_voltage_v)
            throw InputError(operation_.place, "operation.bus_voltage",
                             "missing; expected the DC-link voltage, such as `800 V`");
        if (!operation_.load_current_a)
            throw InputError(operation_.place, "operation.load_current",
                             "missing; expected the load current of the whole switch, such as `200 A`");
        if (own().has_statics() && !operation_.drive)
            throw InputError(operation_.place, "operation.drive",
                             "missing; expected the drive, such as `{high: 18 V, low: -4 V}`");
        bus_v_ = *operation_.bus_voltage_v;
        load_a_ = *operation_.load_current_a;
        cascode_ = input_.positions.front().device.kind == DeviceKind::cascode;
        if (cascode_) {
            low_v_ = lowest_voltage("turn_on voltage");
            add_onset();
        }
        for (const Edge edge : {Edge::turn_on, Edge::turn_off}) {
            walk_current(edge);
            if (low_v_ == 0) low_v_ = lowest_voltage("turn_on voltage");
            walk_voltage(edge);
            walk_plateau(edge);
            walk_peak(edge);
        }
    }

    void walk_current(Edge edge) {
        const std::string stage = std::string(edge_name(edge)) + " current";
        const bool held = judged_held(stage, edge);
        const Step first{stage, 0, edge, bus_v_, 0};
        if (wanted(first) && begins_at_threshold()) add_static(first, Complementary::conducting, held);
        const int steps = operation_.path->steps;
        for (int k = 1; k <= steps; ++k)
            add_static({stage, k, edge, bus_v_, load_a_ * k / steps}, Complementary::conducting, held);
    }

    /// Not where a curve begins above 0 A, nor where an avalanche keeps the JFET from turning off: what
    /// carries no current there is not known.
    bool begins_at_threshold() {
        if (!own().has_statics()) return false;
        try {
            known_bias(query({"turn_on current", 0, Edge::turn_on, bus_v_, 0}));
            return true;
        } catch (const InputError&) {
            warnings_.add("operation.path",
                          "the devices carry a current at any gate voltage that their curves know: "
                          "the current transfer has no point at the threshold");
            return false;
        }
    }

    void walk_voltage(Edge edge) {
        const std::string stage = std::string(edge_name(edge)) + " voltage";
        for (int k = 0; k < operation_.path->steps; ++k) {
            const Step step{stage, k + 1, edge, geometric(low_v_, k), load_a_};
            if (!wanted(step)) continue;
            if (!cascode_ || !own().has_statics())
                add_static(step, Complementary::blocking);
            else
                add(walked(step), own(), transfer_bias(own(), gate_high_v_, query(step)));
        }
    }

    void walk_peak(Edge edge) {
        if (!operation_.path->peak_current_a) return;
        const std::string stage = std::string(edge_name(edge)) + " peak";
        const bool held = judged_held(stage, edge);
        const int steps = operation_.path->steps;
        for (int k = 0; k < steps; ++k) {
            const double share = steps == 1 ? 1 : static_cast<double>(k) / (steps - 1);
            const double current_a = std::lerp(load_a_, *operation_.path->peak_current_a, share);
            add_static({stage, k + 1, edge, bus_v_, current_a}, Complementary::conducting, held);
        }
    }

    void add_onset() {
        onset_v_ = low_v_;
        Step step{"turn_off onset", 1, Edge::turn_off, bus_v_, load_a_};
        if (own().has_statics()) onset_v_ = saturation_onset(own(), false, low_v_, query(step));
        step.vds_v = onset_v_.value_or(bus_v_);
        if (onset_v_)
            add_static(step, Complementary::blocking);
        else
            warnings_.add("operation.path",
                          "the MOSFET never saturates at the load current, because the JFET pinches off "
                          "first: there is no `turn_off onset`, and no plateau");
        if (!own().has_statics() || !onset_v_) return;
        plateau_v_ = saturation_onset(own(), true, *onset_v_,
                                      query({"turn_on plateau", 1, Edge::turn_on, bus_v_, load_a_}));
        if (!plateau_v_)
            warnings_.add("operation.path",
                          "the dice are never both saturated at the load current: there is no plateau");
    }

    void walk_plateau(Edge edge) {
        if (!plateau_v_) return;
        const std::string stage = std::string(edge_name(edge)) + " plateau";
        for (int k = 0; k < operation_.path->steps; ++k)
            add_static({stage, k + 1, edge, geometric(*plateau_v_, k), load_a_}, Complementary::blocking,
                       judged_held(stage, edge));
    }

    const Case& input_;
    const Operation& operation_;
    double temperature_degc_, slope_per_v_;
    std::string variant_;
    Warnings& warnings_;
    std::vector<OperatingPoint>& points_;
    const std::string* only_;  // the name of the only point asked for; null: all
    PointMaker maker_;
    std::optional<ParallelDevices> own_;
    std::vector<std::pair<std::pair<double, double>, std::vector<DeviceBias>>> biases_;  // (V, A), of own_
    double bus_v_ = 0, load_a_ = 0, gate_high_v_ = 0, low_v_ = 0;
    bool cascode_ = false;
    std::optional<double> onset_v_, plateau_v_;  // of a cascode's inner stages
};

}  // namespace

bool same_network(const OperatingPoint& a, const OperatingPoint& b) {
    return a.edge == b.edge && a.complementary == b.complementary && a.devices == b.devices &&
           a.complementary_capacitance_f == b.complementary_capacitance_f &&
           a.leg_capacitance_f == b.leg_capacitance_f && a.gate_current_a == b.gate_current_a;
}

std::optional<OperatingPoint> operating_point(const Case& input, const std::string& name) {
    std::vector<OperatingPoint> found;
    Warnings unheard;
    const bool assumed = slope_is_assumed(input);
    for (const double temperature_degc : input.operation.junction_temperatures_degc)
        for (const double slope_per_v : assumed_output_slopes_per_v) {
            if (!assumed && slope_per_v != first_slope) break;
            PathWalker(input, temperature_degc, slope_per_v, unheard, found, &name).run();
            if (!found.empty()) return std::move(found.front());
        }
    return {};
}

OperatingPath operating_path(const Case& input) {
    OperatingPath out;
    Warnings warnings;
    const bool assumed = slope_is_assumed(input);
    for (const double temperature_degc : input.operation.junction_temperatures_degc)
        for (const double slope_per_v : assumed_output_slopes_per_v) {
            if (!assumed && slope_per_v != first_slope) break;
            PathWalker(input, temperature_degc, slope_per_v, warnings, out.points).run();
        }
    if (assumed)
        warnings.add("output_slope",
                     fmt::format("not given, and no device has 0: {} /V is assumed, and {} and {} /V "
                                 "are judged as well; the worst counts",
                                 plain_slope(assumed_output_slopes_per_v[0]),
                                 plain_slope(assumed_output_slopes_per_v[1]),
                                 plain_slope(assumed_output_slopes_per_v[2])));
    out.warnings = std::move(warnings.list);
    return out;
}

}  // namespace ringquell
