#include "ringquell/device.h"

#include <cmath>

namespace ringquell {

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

}  // namespace ringquell
