#include "devices/prepared_device.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include "case/enum_names.h"

namespace ringquell::internal {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

double at_temperature(const DieResistance& r, double temperature_degc, const Place& place, const char* key) {
    const double value = r.value_ohm * (1 + r.per_kelvin * (temperature_degc - r.at_degc));
    if (value < 0)
        throw InputError(
            place, key,
            fmt::format("found {:.6g} ohm at {:.6g} degC, expected a `per_kelvin` that leaves no negative "
                        "resistance",
                        value, temperature_degc));
    return value;
}

/// f.at(x) with x kept inside the points, which rounding may leave.
CurveValue value_within(const MonotoneCubic& f, double x) {
    if (x < f.first_x() && f.first_y() == 0) return {};
    return *f.at(std::clamp(x, f.first_x(), f.last_x()));
}

MonotoneCubic cubic(const TransferCurve& curve, const std::string& key) {
    try {
        return MonotoneCubic(curve.points);
    } catch (const std::invalid_argument& error) {
        throw InputError(curve.place, key, error.what());
    }
}

}  // namespace

// ---- the channel ------------------------------------------------------------------------------------------

PreparedChannel::PreparedChannel(const Channel& channel, double junction_temperature_degc, const Place& place,
                                 const std::string& key, double assumed_slope_per_v)
    : lowest_v_(-infinity), highest_v_(infinity) {
    if (const auto* curves = std::get_if<TransferChannel>(&channel)) {
        prepare(*curves, junction_temperature_degc, place, key + ".transfer", assumed_slope_per_v);
    } else if (const auto* formula = std::get_if<FormulaChannel>(&channel)) {
        FormulaChannel whole = *formula;
        if (!whole.output_slope_per_v) whole.output_slope_per_v = assumed_slope_per_v;
        form_ = whole;
        threshold_v_ = formula->threshold_v;
    } else {
        form_ = std::get<FixedChannel>(channel);
    }
}

void PreparedChannel::prepare(const TransferChannel& channel, double temperature, const Place& place,
                              const std::string& key, double assumed_slope_per_v) {
    const auto& curves = channel.curves;
    if (curves.empty()) throw InputError(place, key, "found no curve, expected one or more");
    size_t hotter = 0;  // the first curve that is not colder than the temperature
    if (curves.front().junction_temperature_degc) {
        const double coldest = *curves.front().junction_temperature_degc;
        const double hottest = *curves.back().junction_temperature_degc;
        if (temperature < coldest || temperature > hottest)
            throw InputError(
                curves.front().place, key,
                fmt::format(
                    "found curves for {}, expected the junction temperature, {:.6g} degC, among them: "
                    "nothing is extrapolated",
                    coldest == hottest ? fmt::format("{:.6g} degC", coldest)
                                       : fmt::format("{:.6g} degC to {:.6g} degC", coldest, hottest),
                    temperature));
        while (*curves[hotter].junction_temperature_degc < temperature) ++hotter;
    }
    const bool between = hotter > 0 && *curves[hotter].junction_temperature_degc != temperature;
    Curves form{cubic(curves[between ? hotter - 1 : hotter], key),
                std::nullopt,
                0,
                channel.threshold_shift_v,
                channel.gain_factor,
                channel.knee_voltage_v,
                channel.output_slope_per_v.value_or(assumed_slope_per_v)};
    const auto first_known = [](const MonotoneCubic& f) {
        return f.first_y() == 0 ? -infinity : f.first_x();
    };
    lowest_v_ = first_known(form.colder);
    highest_v_ = form.colder.last_x();
    threshold_v_ = form.colder.first_x();
    if (between) {
        const double low = *curves[hotter - 1].junction_temperature_degc;
        form.share_hotter = (temperature - low) / (*curves[hotter].junction_temperature_degc - low);
        form.hotter = cubic(curves[hotter], key);
        lowest_v_ = std::max(lowest_v_, first_known(*form.hotter));
        highest_v_ = std::min(highest_v_, form.hotter->last_x());
        threshold_v_ = std::max(lowest_v_, std::min(threshold_v_, form.hotter->first_x()));
    }
    lowest_v_ += channel.threshold_shift_v;
    highest_v_ += channel.threshold_shift_v;
    threshold_v_ += channel.threshold_shift_v;
    form_ = std::move(form);
}

CurveValue PreparedChannel::Curves::at(double shifted_vgs_v) const {
    const CurveValue cold = value_within(colder, shifted_vgs_v);
    if (!hotter) return cold;
    const CurveValue hot = value_within(*hotter, shifted_vgs_v);
    return {std::lerp(cold.value, hot.value, share_hotter),
            std::lerp(cold.derivative, hot.derivative, share_hotter)};
}

ChannelState PreparedChannel::at(double vgs_v, double vds_v) const {
    const double vgs = std::clamp(vgs_v, lowest_v_, highest_v_);
    if (const auto* formula = std::get_if<FormulaChannel>(&form_)) return channel_state(*formula, vgs, vds_v);
    const auto& c = std::get<Curves>(form_);
    const CurveValue f = c.at(vgs - c.threshold_shift_v);
    return channel_state({c.gain_factor * f.value, c.gain_factor * f.derivative}, c.output_slope_per_v,
                         c.knee_voltage_v, vds_v);
}

double PreparedChannel::saturation_voltage_v() const {
    const auto* formula = std::get_if<FormulaChannel>(&form_);
    const double knee = formula != nullptr ? formula->knee_voltage_v : std::get<Curves>(form_).knee_voltage_v;
    return knee * std::atanh(saturated_share);
}

DieRegion PreparedChannel::region(double vgs_v, double vds_v) const {
    constexpr double rounding = 1e-9;  // of a voltage that was solved for
    if (at(vgs_v, std::max(vds_v, saturation_voltage_v())).current_a == 0) return DieRegion::off;
    return vds_v < saturation_voltage_v() * (1 - rounding) ? DieRegion::ohmic : DieRegion::saturated;
}

// ---- capacitances -----------------------------------------------------------------------------------------

PreparedCapacitance::PreparedCapacitance(const Die& die, const std::string& key,
                                         double default_gate_voltage_v)
    : gate_voltage_v_(default_gate_voltage_v) {
    if (const auto* fixed = std::get_if<FixedCapacitance>(&die.capacitance)) {
        fixed_ = *fixed;
        return;
    }
    const auto& table = std::get<CapacitanceTable>(die.capacitance);
    gate_voltage_v_ = table.gate_voltage_v.value_or(default_gate_voltage_v);
    ciss_factor_ = table.ciss_factor;
    coss_factor_ = table.coss_factor;
    crss_factor_ = table.crss_factor;
    CurvePoints ciss, coss, crss;
    for (size_t i = 0; i < table.rows.size(); ++i) {
        const auto& row = table.rows[i];
        ciss.emplace_back(row.vds_v, row.ciss_f);
        coss.emplace_back(row.vds_v, row.coss_f);
        crss.emplace_back(row.vds_v, row.crss_f);
        if (!table.holds_reverse_capacitance(row))
            throw InputError(
                table.place, fmt::format("{}[{}]", key, i + 1),
                "with its factors crss exceeds ciss or coss, expected none of cgs = ciss - crss and "
                "cds = coss - crss below zero");
    }
    try {
        ciss_.emplace(ciss);
        coss_.emplace(coss);
        crss_.emplace(crss);
    } catch (const std::invalid_argument& error) {
        throw InputError(table.place, key, error.what());
    }
    first_v_ = table.rows.front().vds_v;
    last_v_ = table.rows.back().vds_v;
}

PreparedCapacitance::Domains PreparedCapacitance::at(double vds_v, double vdg_v, DieValues& out) const {
    if (!is_table()) {
        out.cgs_f = fixed_.cgs_f;
        out.cgd_f = fixed_.cgd_f;
        out.cds_f = fixed_.cds_f;
        return {};
    }
    const double reverse_row_v = vdg_v + gate_voltage_v_;
    const double crss = crss_factor_ * crss_->capacitance_f(vds_v);
    out.cgd_f = crss_factor_ * crss_->capacitance_f(reverse_row_v);
    out.cgs_f = std::max(0.0, ciss_factor_ * ciss_->capacitance_f(vds_v) - crss);
    out.cds_f = std::max(0.0, coss_factor_ * coss_->capacitance_f(vds_v) - crss);
    return {crss_->domain(vds_v), crss_->domain(reverse_row_v)};
}

// ---- devices ----------------------------------------------------------------------------------------------

PreparedDie::PreparedDie(const Die& die, double junction_temperature_degc, const std::string& name,
                         double assumed_slope_per_v, bool normally_on)
    : key(name),
      place(die.place),
      channel(die.channel, junction_temperature_degc, die.place, name + ".channel", assumed_slope_per_v),
      capacitance(die, name + ".capacitance.table", normally_on ? channel.threshold_v() : 0),
      output_resistance_ohm(die.output_resistance_ohm),
      avalanche_voltage_v(die.avalanche_voltage_v) {}

PreparedDevice::PreparedDevice(const Device& device, double temperature, double assumed_slope_per_v)
    : kind(device.kind),
      mosfet(device.mosfet, temperature, device.kind == DeviceKind::cascode ? "device.mosfet" : "device",
             assumed_slope_per_v, device.kind == DeviceKind::jfet),
      gate_resistance_ohm(
          at_temperature(device.gate_resistance, temperature, device.mosfet.place, "device.gate_resistance")),
      jfet_gate_resistance_ohm(0) {
    if (kind != DeviceKind::cascode) return;
    jfet.emplace(device.jfet, temperature, "device.jfet", assumed_slope_per_v, true);
    jfet_gate_resistance_ohm = at_temperature(device.jfet_gate_resistance, temperature, device.jfet.place,
                                              "device.jfet.gate_resistance");
    const bool fixed = mosfet.channel.fixed() != nullptr;
    if (fixed == (jfet->channel.fixed() != nullptr)) return;
    const PreparedDie& odd = fixed ? mosfet : *jfet;
    throw InputError(
        odd.place, odd.key + ".channel",
        "found fixed values beside a formula or curves for the other die, expected the same of both: the "
        "dice carry one current, which fixed values do not tell");
}

bool has_own_temperatures(const Case& input) {
    return std::any_of(input.positions.begin(), input.positions.end(),
                       [](const Position& p) { return p.junction_temperature_degc.has_value(); });
}

ParallelDevices prepare_devices(const Case& input, const std::vector<Device>& own, double temperature,
                                double assumed_slope_per_v) {
    struct Seen {
        const Device* device;
        double temperature_degc;
    };
    ParallelDevices out;
    std::vector<Seen> seen;
    const size_t n = own.size() == 1 && !has_own_temperatures(input) ? 1 : input.positions.size();
    for (size_t i = 0; i < n; ++i) {
        const Device& device = own.empty()       ? input.positions[i].device
                               : own.size() == 1 ? own.front()
                                                 : own[i];
        const double degc = input.positions[i].junction_temperature_degc.value_or(temperature);
        constexpr size_t look_back = 8;  // so that N different devices cost N, not N², comparisons
        size_t k = seen.size();
        for (size_t back = 1; back <= std::min(look_back, seen.size()) && k == seen.size(); ++back)
            if (const Seen& s = seen[seen.size() - back]; s.temperature_degc == degc && *s.device == device)
                k = seen.size() - back;
        if (k == seen.size()) {
            seen.push_back({&device, degc});
            out.distinct.emplace_back(device, degc, assumed_slope_per_v);
            out.count.push_back(0);
        }
        out.count[k] += 1;
        out.of_position.push_back(k);
    }
    if (n == 1) out.count[0] = input.n();
    if (out.distinct.size() == 1) out.of_position = {0};
    for (const PreparedDevice& d : out.distinct) {
        if (d.has_statics() != out.has_statics())
            throw InputError(
                d.mosfet.place, d.mosfet.key + ".channel",
                "found fixed values beside a formula or curves, expected one form in all devices that share "
                "a current");
        if (d.has_statics() && d.kind != out.distinct.front().kind)
            throw InputError(
                d.mosfet.place, "device.kind",
                fmt::format("found a {} beside a {}, expected devices of one kind where they share a current",
                            kind_word(out.distinct.front().kind), kind_word(d.kind)));
    }
    return out;
}

}  // namespace ringquell::internal
