// Private to the operating path: an operating point from its bias, at one junction temperature and one
// assumed output slope.
#pragma once

#include <optional>
#include <set>
#include <string>
#include <vector>

#include "devices/statics.h"
#include "numerics/curve.h"
#include "ringquell/operating_path.h"

namespace ringquell::internal {

/// Warnings of which each key has one.
class Warnings {
  public:
    void add(const std::string& key, const std::string& text) {
        if (seen_.insert(key).second) list.push_back({key, text});
    }
    std::vector<Warning> list;

  private:
    std::set<std::string> seen_;
};

/// A complementary device's capacitance while it blocks.
class ComplementaryCapacitance {
  public:
    ComplementaryCapacitance(const ComplementaryDevice& device, std::string key)
        : key_(std::move(key)), fixed_f_(device.capacitance_f) {
        if (!device.curve) return;
        place_ = device.curve->place;
        try {
            curve_.emplace(device.curve->points);
        } catch (const std::invalid_argument& error) {
            throw InputError(place_, key_, error.what());
        }
        last_v_ = device.curve->points.back().first;
    }
    bool is_curve() const { return curve_.has_value(); }
    const std::string& key() const { return key_; }
    const Place& place() const { return place_; }
    double last_v() const { return last_v_; }
    Domain domain(double v) const { return curve_ ? curve_->domain(v) : Domain::inside; }
    double at(double v) const { return curve_ ? curve_->capacitance_f(v) : fixed_f_; }

  private:
    std::string key_;
    Place place_;
    double fixed_f_;
    double last_v_ = 0;
    std::optional<CapacitanceInterpolant> curve_;
};

/// Gives points their device values and what else the network needs.
class PointMaker {
  public:
    PointMaker(const Case& input, double temperature_degc, std::string variant, Warnings& warnings);

    /// `bias` of the distinct devices; empty: fixed values.
    /// Without current gm and gds are 0.
    OperatingPoint make(OperatingPoint point, const ParallelDevices& devices,
                        const std::vector<DeviceBias>& bias, std::optional<double> gate_current_a = {});

  private:
    double complementary_capacitance(const ComplementaryCapacitance& device, const OperatingPoint& point);
    /// Without the gate voltage the gate is taken to be where the curves were measured.
    void set_die(DieValues& out, const PreparedDie& die, double vds_v, std::optional<double> vgs_v,
                 OperatingPoint& point);
    DeviceValues values(const PreparedDevice& device, const DeviceBias* bias, OperatingPoint& point);
    DeviceValues fixed_values(const PreparedDevice& device, DeviceValues out, OperatingPoint& point);
    void set_gate_current(OperatingPoint& point, std::optional<double> given_a);

    const Case& input_;
    double temperature_degc_;
    std::string variant_;
    Warnings& warnings_;
    ComplementaryCapacitance power_loop_;
    std::vector<ComplementaryCapacitance> legs_;
};

}  // namespace ringquell::internal
