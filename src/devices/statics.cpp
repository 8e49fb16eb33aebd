#include "devices/statics.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "numerics/rising_root.h"

namespace ringquell::internal {

namespace {

/// Of a current: what the roots of nested equations may miss.
constexpr double rounding = 1e-9;

bool cascodes(const ParallelDevices& devices) {
    return devices.distinct.front().kind == DeviceKind::cascode;
}

template <class F>
double total(const ParallelDevices& devices, F&& current_of) {
    double sum = 0;
    for (size_t k = 0; k < devices.distinct.size(); ++k)
        sum += devices.count[k] * current_of(devices.distinct[k]);
    return sum;
}

double current_at(const ParallelDevices& devices, double vgs, double vds, double drop) {
    bool beyond = false;
    return total(devices,
                 [&](const PreparedDevice& d) { return device_bias(d, vgs, vds, drop, beyond).current_a; });
}

[[noreturn]] void fail(const StaticsQuery& query, const std::string& text) {
    throw InputError(query.place, query.point, text);
}

std::string asked(const StaticsQuery& query) {
    return fmt::format("{:.6g} A at {:.6g} V", query.current_a, query.vds_v);
}

/// The biases at a gate voltage and drop; an error where a JFET's curve ends before its inner node balances.
std::vector<DeviceBias> biases(const ParallelDevices& devices, double vgs, double drop,
                               const StaticsQuery& query) {
    std::vector<DeviceBias> out;
    for (const PreparedDevice& d : devices.distinct) {
        bool beyond = false;
        out.push_back(device_bias(d, vgs, query.vds_v, drop, beyond));
        if (beyond)
            fail(query,
                 fmt::format(
                     "found {}, which needs the JFET at a gate-source voltage outside its curve, {:.6g} V "
                     "to {:.6g} V; expected a curve of `{}.channel` that reaches it",
                     asked(query), d.jfet->channel.lowest_v(), d.jfet->channel.highest_v(), d.jfet->key));
    }
    return out;
}

/// Why no gate voltage is low enough.
[[noreturn]] void fail_too_small(const ParallelDevices& devices, const StaticsQuery& query, double least) {
    if (query.current_a < 0)
        fail(query, fmt::format("found {}, expected a current that is not negative", asked(query)));
    if (cascodes(devices) &&
        current_at(devices, devices.distinct.front().mosfet.channel.threshold_v(), query.vds_v, 0) > 0)
        fail(
            query,
            fmt::format(
                "found {}, but the JFET carries {:.6g} A or more: the MOSFET's avalanche voltage, {:.6g} V, "
                "keeps "
                "the JFET's gate from a lower voltage; expected a larger current or a JFET that is off there",
                asked(query), least,
                devices.distinct.front().mosfet.avalanche_voltage_v.value_or(query.vds_v)));
    fail(query,
         fmt::format(
             "found {}, but the transfer curve begins at {:.6g} A; expected a curve that begins at 0 A, or a "
             "larger current",
             asked(query), least));
}

/// The gate voltage that the devices share.
double shared_gate_voltage(const ParallelDevices& devices, const StaticsQuery& query) {
    double known_low = -std::numeric_limits<double>::infinity(), known_high = -known_low,
           threshold = known_high;
    for (const PreparedDevice& d : devices.distinct) {
        known_low = std::max(known_low, d.mosfet.channel.lowest_v());
        known_high = std::min(known_high, d.mosfet.channel.highest_v());
        threshold = std::min(threshold, d.mosfet.channel.threshold_v());
    }
    const auto excess = [&](double vgs) {
        return current_at(devices, vgs, query.vds_v, 0) - query.current_a;
    };
    const double slack = rounding * std::abs(query.current_a);
    const double low = std::max(known_low, threshold);
    if (const double at_low = excess(low); at_low > slack)
        fail_too_small(devices, query, at_low + query.current_a);
    if (cascodes(devices)) {
        const double most = total(
            devices, [&](const PreparedDevice& d) { return d.jfet->channel.at(0, query.vds_v).current_a; });
        if (most <= query.current_a)
            fail(query,
                 fmt::format(
                     "found {}, but the JFET carries less than {:.6g} A there even with its gate at its "
                     "source; expected a smaller current or a larger JFET",
                     asked(query), most));
    }
    if (std::isfinite(known_high)) {
        if (const double at_high = excess(known_high); at_high < -slack)
            fail(query,
                 fmt::format(
                     "found {}, but the switch carries {:.6g} A at {:.6g} V of gate voltage, where the "
                     "{}transfer curve ends; expected a current within the curve",
                     asked(query), at_high + query.current_a, known_high,
                     cascodes(devices) ? "MOSFET's " : ""));
        return rising_root(excess, low, known_high);
    }
    constexpr double limit_v = 1e6;
    double step = 1;
    while (excess(low + step) < 0) {
        step *= 2;
        if (step > limit_v)
            fail(query,
                 fmt::format("found {}, which no gate voltage makes the channels carry; expected a smaller "
                             "current",
                             asked(query)));
    }
    const double high = low + step;
    return rising_root(excess, low, high);
}

}  // namespace

DeviceBias device_bias(const PreparedDevice& device, double vgs, double vds, double drop, bool& beyond) {
    const PreparedChannel& mosfet = device.mosfet.channel;
    if (device.kind != DeviceKind::cascode) return {mosfet.at(vgs, vds).current_a, vgs, 0, 0, false};
    const PreparedChannel& jfet = device.jfet->channel;
    const double low = std::clamp(drop - jfet.highest_v(), 0.0, vds);
    // From here on the JFET is off (where its curve begins above 0 A: unknown), whatever the MOSFET does.
    double high = std::clamp(drop - jfet.threshold_v(), low, vds);
    const auto& avalanche = device.mosfet.avalanche_voltage_v;
    const bool held = avalanche && *avalanche < high;
    if (held) high = std::max(low, *avalanche);
    const auto excess = [&](double v) {
        return mosfet.at(vgs, v).current_a - jfet.at(drop - v, vds - v).current_a;
    };
    const double v = rising_root(excess, low, high);
    DeviceBias out{jfet.at(drop - v, vds - v).current_a, vgs, v, drop - v, false};
    const double slack = rounding * out.current_a;
    out.avalanche = held && v == high && excess(v) < -slack;
    beyond =
        beyond || (low > 0 && v == low && excess(v) > slack) || (!held && v == high && excess(v) < -slack);
    return out;
}

std::vector<DeviceBias> static_bias(const ParallelDevices& devices, const StaticsQuery& query) {
    return biases(devices, shared_gate_voltage(devices, query), 0, query);
}

std::vector<DeviceBias> transfer_bias(const ParallelDevices& devices, double gate_high,
                                      const StaticsQuery& query) {
    double lowest = 0;
    for (const PreparedDevice& d : devices.distinct) lowest = std::min(lowest, d.jfet->channel.threshold_v());
    const auto excess = [&](double drop) {
        return current_at(devices, gate_high, query.vds_v, drop) - query.current_a;
    };
    return biases(devices, gate_high, rising_root(excess, lowest, 0), query);
}

double on_state_voltage(const ParallelDevices& devices, double gate_high, const StaticsQuery& query) {
    const auto excess = [&](double vds) { return current_at(devices, gate_high, vds, 0) - query.current_a; };
    if (const double most = excess(query.vds_v); most < 0)
        fail(query,
             fmt::format(
                 "found {:.6g} A, but at a gate voltage of {:.6g} V the switch carries {:.6g} A at {:.6g} V; "
                 "expected {}a smaller current",
                 query.current_a, gate_high, most + query.current_a, query.vds_v,
                 cascodes(devices) ? "" : "a higher `drive.high` (within the transfer curve) or "));
    StaticsQuery found = query;
    found.vds_v = rising_root(excess, 0, query.vds_v);
    biases(devices, gate_high, 0, found);  // an error where a curve does not reach there
    return found.vds_v;
}

std::optional<double> saturation_onset(const ParallelDevices& devices, bool both, double low,
                                       const StaticsQuery& query) {
    const auto excess = [&](double vds) {
        StaticsQuery at = query;
        at.vds_v = vds;
        const std::vector<DeviceBias> bias = static_bias(devices, at);
        double least = std::numeric_limits<double>::infinity();
        for (size_t k = 0; k < bias.size(); ++k) {
            const PreparedDevice& d = devices.distinct[k];
            least = std::min(least, bias[k].inner_voltage_v / d.mosfet.channel.saturation_voltage_v());
            if (both)
                least =
                    std::min(least, (vds - bias[k].inner_voltage_v) / d.jfet->channel.saturation_voltage_v());
        }
        return least - 1;
    };
    if (excess(query.vds_v) < 0) return std::nullopt;
    return rising_root(excess, low, query.vds_v);
}

double known_gate_voltage(const ParallelDevices& devices, double gate_high) {
    for (const PreparedDevice& d : devices.distinct)
        gate_high = std::min(gate_high, d.mosfet.channel.highest_v());
    return gate_high;
}

}  // namespace ringquell::internal
