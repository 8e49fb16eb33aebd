#include "ringquell/device.h"

#include <fmt/format.h>

#include <cmath>

#include "prepared_device.h"

namespace ringquell {

const char* region_name(DieRegion region) {
    switch (region) {
        case DieRegion::unknown:
            return "unknown";
        case DieRegion::off:
            return "off";
        case DieRegion::ohmic:
            return "ohmic";
        case DieRegion::saturated:
            return "saturated";
        case DieRegion::avalanche:
            return "avalanche";
    }
    return "";
}

ChannelState channel_state(const FormulaChannel& c, double vgs_v, double vds_v) {
    const double over = vgs_v - c.threshold_v;
    if (over <= 0) return {};
    const double slope = 1 + c.output_slope_per_v * vds_v;
    const double knee = std::tanh(vds_v / c.knee_voltage_v);
    const double saturated = c.gain_a * std::pow(over, c.exponent);  // over in units of 1 V
    const double current = saturated * slope * knee;
    const double sech = 1 / std::cosh(vds_v / c.knee_voltage_v);
    return {current, c.exponent * current / over,
            saturated * (c.output_slope_per_v * knee + slope * sech * sech / c.knee_voltage_v)};
}

ChannelState channel_state(const Channel& channel, double vgs_v, double vds_v,
                           double junction_temperature_degc) {
    const PreparedChannel prepared(channel, junction_temperature_degc, {}, "channel");
    if (prepared.fixed() != nullptr)
        throw InputError({}, "channel",
                         "found fixed values, which have no current; expected a formula or curves");
    if (vgs_v < prepared.lowest_v() || vgs_v > prepared.highest_v())
        throw InputError(
            {}, "channel.transfer",
            fmt::format(
                "found a gate voltage of {:.6g} V, expected one within the curve, {:.6g} V to {:.6g} V",
                vgs_v, prepared.lowest_v(), prepared.highest_v()));
    return prepared.at(vgs_v, vds_v);
}

}  // namespace ringquell
