// The current of a channel and its derivatives.
#pragma once

#include "ringquell/case.h"

namespace ringquell::internal {

/// Drain current of a channel in A at gate-source voltage `vgs_v`, drain-source voltage `vds_v` >= 0, with
/// its exact derivatives.
struct ChannelState {
    double current_a = 0;
    double transconductance_s = 0;
    double output_conductance_s = 0;
};

/// I = gain·((vgs − threshold)/1 V)^exponent·(1 + output_slope·vds)·tanh(vds/knee) (tanh knee after Curtice,
/// IEEE Trans. MTT-28, 1980), zero below threshold.
ChannelState channel_state(const FormulaChannel& channel, double vgs_v, double vds_v);

/// Any channel given by a formula or by curves, at a junction temperature.
///
/// Curves: I = gain_factor·f(vgs − threshold_shift)·(1 + output_slope·vds)·tanh(vds/knee), f the monotone
/// cubic of curve.h. Between the curves of two temperatures f is their linear mean at equal gate voltage,
/// weighted by the distance in temperature, so gm is the same mean of the slopes; it is exact at either curve
/// and never falls. The formula does not depend on the temperature.
///
/// InputError: a temperature outside those of the curves (a single curve without a temperature holds at all),
/// a gate voltage outside the curve's points (below a first point of 0 A the current is 0), fixed values.
ChannelState channel_state(const Channel& channel, double vgs_v, double vds_v,
                           double junction_temperature_degc);

}  // namespace ringquell::internal
