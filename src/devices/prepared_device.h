// A device at one junction temperature with its curves interpolated once, so that a path evaluates them
// cheaply.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "devices/channel_state.h"
#include "numerics/curve.h"
#include "ringquell/device.h"

namespace ringquell::internal {

/// A channel whose saturated current without output slope has this value and derivative by the gate voltage:
/// the current times (1 + output_slope·vds)·tanh(vds/knee_voltage). A conductance below the rounding of gm is
/// 0.
ChannelState channel_state(const CurveValue& saturated, double output_slope_per_v, double knee_voltage_v,
                           double vds_v);

/// The channel of a die at one temperature; see channel_state() in device.h for what it means.
class PreparedChannel {
  public:
    /// `key` names the channel in errors: a temperature outside the curves. `assumed_slope`: the output slope
    /// where the channel gives none.
    PreparedChannel(const Channel& channel, double junction_temperature_degc, const Place& place,
                    const std::string& key, double assumed_slope_per_v = assumed_output_slopes_per_v.front());

    const FixedChannel* fixed() const { return std::get_if<FixedChannel>(&form_); }

    // The rest is of formulas and curves alone.

    /// Between these gate voltages the current is known; infinite where nothing bounds it.
    double lowest_v() const { return lowest_v_; }
    double highest_v() const { return highest_v_; }
    /// Nothing flows at and below it; the first point of a curve that does not begin at 0 A.
    double threshold_v() const { return threshold_v_; }
    /// Saturated from this drain-source voltage on.
    double saturation_voltage_v() const;

    /// A gate voltage beyond lowest_v() or highest_v() counts as these: it is the caller's to see to.
    ChannelState at(double vgs_v, double vds_v) const;
    DieRegion region(double vgs_v, double vds_v) const;

  private:
    struct Curves {
        MonotoneCubic colder;
        std::optional<MonotoneCubic> hotter;
        double share_hotter = 0;
        double threshold_shift_v = 0, gain_factor = 1, knee_voltage_v = 0, output_slope_per_v = 0;
        CurveValue at(double shifted_vgs_v) const;
    };
    void prepare(const TransferChannel& channel, double junction_temperature_degc, const Place& place,
                 const std::string& key, double assumed_slope_per_v);

    std::variant<FixedChannel, FormulaChannel, Curves> form_;
    double lowest_v_, highest_v_, threshold_v_ = 0;
};

/// The capacitances of a die. Curves were taken at one gate-source voltage, so that a row stands for a
/// drain-source voltage and for a drain-gate voltage, its vds less that gate voltage.
class PreparedCapacitance {
  public:
    /// `key` names the capacitance in errors: a row where a factor makes crss exceed ciss or coss.
    /// `default_gate_voltage_v`: at which the curves were taken where they do not say it.
    PreparedCapacitance(const Die& die, const std::string& key, double default_gate_voltage_v = 0);

    bool is_table() const { return ciss_.has_value(); }
    /// Where the two voltages lie in the table. Outside it the capacitances are those at its end.
    struct Domains {
        Domain own = Domain::inside, reverse = Domain::inside;
    };
    /// Sets cgs = ciss − crss and cds = coss − crss at the drain-source voltage, cgd = crss at the drain-gate
    /// voltage; none below zero (interpolants that meet may cross by their error).
    Domains at(double vds_v, double vdg_v, DieValues& out) const;
    /// With the gate at the voltage at which the curves were taken (its own voltage is not known).
    Domains at(double vds_v, DieValues& out) const { return at(vds_v, vds_v - gate_voltage_v_, out); }
    double gate_voltage_v() const { return gate_voltage_v_; }
    double first_v() const { return first_v_; }
    double last_v() const { return last_v_; }

  private:
    FixedCapacitance fixed_;
    std::optional<CapacitanceInterpolant> ciss_, coss_, crss_;
    double ciss_factor_ = 1, coss_factor_ = 1, crss_factor_ = 1;
    double gate_voltage_v_;
    double first_v_ = 0, last_v_ = 0;
};

struct PreparedDie {
    /// `normally_on`: a JFET, whose capacitances are taken at its threshold where the table does not say it.
    PreparedDie(const Die& die, double junction_temperature_degc, const std::string& key,
                double assumed_slope_per_v, bool normally_on = false);
    std::string key;  // "device", "device.mosfet", "device.jfet"
    Place place;
    PreparedChannel channel;
    PreparedCapacitance capacitance;
    double output_resistance_ohm;
    std::optional<double> avalanche_voltage_v;
};

struct PreparedDevice {
    PreparedDevice(const Device& device, double junction_temperature_degc,
                   double assumed_slope_per_v = assumed_output_slopes_per_v.front());
    DeviceKind kind;
    PreparedDie mosfet;
    std::optional<PreparedDie> jfet;  // a cascode's
    double gate_resistance_ohm;
    double jfet_gate_resistance_ohm;
    /// Channels given by formulas or curves, so that a static solution exists.
    bool has_statics() const { return mosfet.channel.fixed() == nullptr; }
};

/// Devices in parallel, alike ones once.
struct ParallelDevices {
    std::vector<PreparedDevice> distinct;
    std::vector<double> count;        // how many positions have each
    std::vector<size_t> of_position;  // one where all are alike, else N
    bool has_statics() const { return distinct.front().has_statics(); }
};

/// Has any position a junction temperature of its own?
bool has_own_temperatures(const Case& input);

/// The devices of a case at a temperature: `own` (one, or N), or where that is empty the positions'. A
/// position with a temperature of its own is at that.
/// InputError where a device's channels cannot stand together: fixed values beside formulas or curves.
ParallelDevices prepare_devices(const Case& input, const std::vector<Device>& own,
                                double junction_temperature_degc,
                                double assumed_slope_per_v = assumed_output_slopes_per_v.front());

}  // namespace ringquell::internal
