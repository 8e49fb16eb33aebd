#include "estimates/stage_times.h"

#include <fmt/format.h>

#include <cmath>

namespace ringquell::internal {

namespace {

/// The walk's stages by their last word; anything else is an explicit point or a single one.
enum class StageKind { current, peak, voltage, plateau, other };

StageKind kind_of(const std::string& stage) {
    if (stage.ends_with(" current")) return StageKind::current;
    if (stage.ends_with(" peak")) return StageKind::peak;
    if (stage.ends_with(" voltage")) return StageKind::voltage;
    if (stage.ends_with(" plateau")) return StageKind::plateau;
    return StageKind::other;
}

bool solved(const std::vector<OperatingPoint>& stage) {
    for (const OperatingPoint& p : stage)
        if (!p.device(0).solved) return false;
    return true;
}

/// Time in units of R·Ciss that the gate takes from one voltage to another, whichever way the edge goes.
std::optional<double> gate_log(double drive_v, double a_v, double b_v) {
    if ((drive_v - a_v) * (drive_v - b_v) <= 0) return std::nullopt;
    return std::abs(std::log((drive_v - a_v) / (drive_v - b_v)));
}

struct Weights {
    std::vector<double> at;  // of each point, from the beginning of the stage; any unit
    double unit_s = 0;       // the unit in seconds; 0: only their proportion is known
};

class Weigher {
  public:
    Weigher(const Case& input, const std::vector<OperatingPoint>& stage, const SwitchingEstimate& estimate)
        : input_(input),
          stage_(stage),
          estimate_(estimate),
          known_(solved(stage) && input.operation.drive.has_value()) {
        if (known_)
            drive_v_ =
                estimate.edge == Edge::turn_on ? input.operation.drive->high_v : input.operation.drive->low_v;
    }

    std::optional<Weights> run(StageKind kind) const {
        switch (kind) {
            case StageKind::current:
            case StageKind::peak:
                return by_gate_voltage(kind);
            case StageKind::voltage:
                return by_output_charge();
            case StageKind::plateau:
                return by_gate_charge();
            case StageKind::other:
                break;
        }
        return std::nullopt;
    }

  private:
    double gate_v(size_t k) const { return stage_[k].device(0).gate_voltage_v; }

    std::optional<Weights> by_gate_voltage(StageKind kind) const {
        Weights out;
        if (known_ && estimate_.threshold_v) {
            out.unit_s = 1;
            const Drive& drive = *input_.operation.drive;
            const double swing_v = std::abs(drive.high_v - drive.low_v);
            const double ramp_s = drive.ramp_s(estimate_.edge).value_or(0);
            const bool from_first = kind == StageKind::peak || stage_.front().current_a == 0;
            const double from = from_first ? gate_v(0) : *estimate_.threshold_v;
            for (size_t k = 0; k < stage_.size(); ++k) {
                const auto t = gate_log(drive_v_, from, gate_v(k));
                if (!t) return std::nullopt;
                // The drive's own ramp passes these voltages in its time.
                const double ramped_s = swing_v > 0 ? ramp_s * std::abs(gate_v(k) - from) / swing_v : 0;
                out.at.push_back(*t * estimate_.gate_time_constant_s + ramped_s);
            }
            return out;
        }
        const double from = kind == StageKind::current ? 0 : stage_.front().current_a;
        for (const OperatingPoint& p : stage_) out.at.push_back(std::abs(p.current_a - from));
        return out;
    }

    /// A constant current charges C_gd (of a cascode the JFET's, and the snubber).
    std::optional<Weights> by_output_charge() const {
        const auto capacitance = [&](size_t k) {
            const DeviceValues& d = stage_[k].device(0);
            const Position& p = input_.positions.front();
            const auto& beside = estimate_.cascode ? p.snubber : p.gate_drain;
            return (estimate_.cascode ? d.jfet.cgd_f : d.mosfet.cgd_f) + (beside ? beside->capacitance_f : 0);
        };
        Weights out{{0}, 0};
        for (size_t k = 1; k < stage_.size(); ++k)
            out.at.push_back(out.at.back() + 0.5 * (capacitance(k) + capacitance(k - 1)) *
                                                 std::abs(stage_[k].vds_v - stage_[k - 1].vds_v));
        return out;
    }

    /// The gate current (V_drive − V_gate)/R moves the gate and, across C_gd, the inner node.
    std::optional<Weights> by_gate_charge() const {
        if (!known_) return std::nullopt;
        Weights out{{0}, 1};
        for (size_t k = 1; k < stage_.size(); ++k) {
            const DeviceValues &a = stage_[k - 1].device(0), &b = stage_[k].device(0);
            const double gate = b.gate_voltage_v - a.gate_voltage_v;
            const double drain = estimate_.cascode ? b.inner_voltage_v - a.inner_voltage_v
                                                   : stage_[k].vds_v - stage_[k - 1].vds_v;
            const double charge = 0.5 * (a.mosfet.cgs_f + b.mosfet.cgs_f) * gate +
                                  0.5 * (a.mosfet.cgd_f + b.mosfet.cgd_f) * (gate - drain);
            const double over = std::abs(drive_v_ - 0.5 * (a.gate_voltage_v + b.gate_voltage_v));
            if (over <= 0) return std::nullopt;
            out.at.push_back(out.at.back() + std::abs(charge) * estimate_.gate.total_ohm() / over);
        }
        return out;
    }

    const Case& input_;
    const std::vector<OperatingPoint>& stage_;
    const SwitchingEstimate& estimate_;
    bool known_;
    double drive_v_ = 0;
};

}  // namespace

std::optional<StageTimes> stage_times(const Case& input, const std::vector<OperatingPoint>& stage,
                                      const SwitchingEstimate& estimate, std::string& why,
                                      std::optional<double> given) {
    const std::string& name = stage.front().stage;
    const StageKind kind = kind_of(name);
    if (!given && input.operation.path) {
        const auto& durations = input.operation.path->durations_s;
        if (const auto it = durations.find(name); it != durations.end()) given = it->second;
    }
    StageTimes out;
    out.estimated = !given;
    if (stage.size() == 1) {
        std::optional<double> total = given;
        if (!total && kind == StageKind::current) total = estimate.current_transfer_s;
        if (!total && kind == StageKind::voltage) total = estimate.voltage_transfer_s;
        if (!total) {
            why = fmt::format("\"{}\" is one point, and how long it lasts is not known", name);
            return std::nullopt;
        }
        out.at_s = {*total};
        out.total_s = *total;
        return out;
    }
    const auto weights = Weigher(input, stage, estimate).run(kind);
    std::optional<double> total = given;
    if (!total && weights && weights->unit_s > 0) total = weights->unit_s * weights->at.back();
    if (!total && kind == StageKind::current) total = estimate.current_transfer_s;
    if (!total && kind == StageKind::voltage) total = estimate.voltage_transfer_s;
    if (!total || !weights || weights->at.back() <= 0) {
        why = fmt::format("the time of \"{}\" cannot be estimated{}", name,
                          estimate.notes.empty() ? std::string() : ": " + estimate.notes.front());
        return std::nullopt;
    }
    out.total_s = *total;
    for (const double w : weights->at) out.at_s.push_back(w / weights->at.back() * *total);
    return out;
}

}  // namespace ringquell::internal
