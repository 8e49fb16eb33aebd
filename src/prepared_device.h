// A device at one junction temperature with its curves interpolated once, so that a path evaluates them
// cheaply.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "ringquell/curve.h"
#include "ringquell/device.h"

namespace ringquell {

/// The channel of a die at one temperature; see channel_state() in device.h for what it means.
class PreparedChannel {
  public:
    /// `key` names the channel in errors: a temperature outside the curves.
    PreparedChannel(const Channel& channel, double junction_temperature_degc, const Place& place,
                    const std::string& key);

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
                 const std::string& key);

    std::variant<FixedChannel, FormulaChannel, Curves> form_;
    double lowest_v_, highest_v_, threshold_v_ = 0;
};

/// The capacitances of a die against its own drain-source voltage.
class PreparedCapacitance {
  public:
    /// `key` names the capacitance in errors: a row where a factor makes crss exceed ciss or coss.
    PreparedCapacitance(const Die& die, const std::string& key);

    bool is_table() const { return ciss_.has_value(); }
    /// Sets cgs = ciss − crss, cgd = crss, cds = coss − crss, not below zero (interpolants that meet may
    /// cross by their error); returns where the voltage lies in the table. Outside it the capacitances are
    /// those at its end.
    Domain at(double vds_v, DieValues& out) const;
    double first_v() const { return first_v_; }
    double last_v() const { return last_v_; }

  private:
    FixedCapacitance fixed_;
    std::optional<CapacitanceInterpolant> ciss_, coss_, crss_;
    double ciss_factor_ = 1, coss_factor_ = 1, crss_factor_ = 1;
    double first_v_ = 0, last_v_ = 0;
};

struct PreparedDie {
    PreparedDie(const Die& die, double junction_temperature_degc, const std::string& key);
    std::string key;  // "device", "device.mosfet", "device.jfet"
    Place place;
    PreparedChannel channel;
    PreparedCapacitance capacitance;
    double output_resistance_ohm;
    std::optional<double> avalanche_voltage_v;
};

struct PreparedDevice {
    PreparedDevice(const Device& device, double junction_temperature_degc);
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

/// The devices of a case at a temperature: `own` (one, or N), or where that is empty the positions'.
/// InputError where a device's channels cannot stand together: fixed values beside formulas or curves.
ParallelDevices prepare_devices(const Case& input, const std::vector<Device>& own,
                                double junction_temperature_degc);

}  // namespace ringquell
