#include "ringquell/device.h"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <limits>

#include "devices/channel_state.h"
#include "devices/prepared_device.h"

namespace ringquell {

using namespace internal;

const char* region_name(DieRegion region) {
    constexpr std::array names{"unknown", "off", "ohmic", "saturated", "avalanche"};
    return names.at(static_cast<size_t>(region));
}

ChannelState internal::channel_state(const FormulaChannel& c, double vgs_v, double vds_v) {
    const double over = vgs_v - c.threshold_v;
    if (over <= 0) return {};
    const double saturated = c.gain_a * std::pow(over, c.exponent);  // over in units of 1 V
    return channel_state({saturated, c.exponent * saturated / over},
                         c.output_slope_per_v.value_or(assumed_output_slopes_per_v.front()), c.knee_voltage_v,
                         vds_v);
}

ChannelState internal::channel_state(const CurveValue& saturated, double output_slope_per_v,
                                     double knee_voltage_v, double vds_v) {
    const double slope = 1 + output_slope_per_v * vds_v;
    const double x = vds_v / knee_voltage_v;
    const double knee = std::tanh(x);
    // sech² without the cancellation of 1 − tanh²; above 1 in e^(−2x) only for a negative x, which does not
    // occur.
    const double decay = std::exp(-2 * x);
    const double sech_squared = 4 * decay / ((1 + decay) * (1 + decay));
    ChannelState out{saturated.value * slope * knee, saturated.derivative * slope * knee,
                     saturated.value * (output_slope_per_v * knee + slope * sech_squared / knee_voltage_v)};
    // Drowned by the rounding of gm, beside which it stands in every sum: nothing, and no structure of its
    // own.
    constexpr double rounding = std::numeric_limits<double>::epsilon();
    if (out.output_conductance_s < rounding * out.transconductance_s) out.output_conductance_s = 0;
    return out;
}

ChannelState internal::channel_state(const Channel& channel, double vgs_v, double vds_v,
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
