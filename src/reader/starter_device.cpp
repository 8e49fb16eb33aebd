#include "reader/starter_device.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "case/enum_names.h"
#include "ringquell/error.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

namespace {

/// What a die's channel is, as far as anything is known of it.
struct ChannelPlan {
    std::vector<TransferCurve> curves;  // in place of the formula
    double threshold_v = 0, gain_a = 0, exponent = 0;
    bool gain_stated = false, exponent_stated = false;
    double current_a(double vgs_v) const;
};

/// The saturated current; of a curve that of its end beyond it.
double ChannelPlan::current_a(double vgs_v) const {
    if (curves.empty()) return vgs_v > threshold_v ? gain_a * std::pow(vgs_v - threshold_v, exponent) : 0;
    const auto& points = curves.front().points;
    if (vgs_v <= points.front().first) return points.front().second;
    for (size_t i = 1; i < points.size(); ++i) {
        const auto& [v1, a1] = points[i - 1];
        const auto& [v2, a2] = points[i];
        if (vgs_v <= v2) return std::lerp(a1, a2, (vgs_v - v1) / (v2 - v1));
    }
    return points.back().second;
}

/// gain and exponent that meet ln I = ln gain + exponent·ln(v − threshold) best; of one point the gain alone.
void fit(ChannelPlan& plan, const std::vector<std::pair<double, double>>& points) {
    double x = 0, y = 0, xx = 0, xy = 0;
    for (const auto& [v, a] : points) {
        const double u = std::log(v - plan.threshold_v), w = std::log(a);
        x += u;
        y += w;
        xx += u * u;
        xy += u * w;
    }
    const auto n = static_cast<double>(points.size());
    if (points.size() > 1) {
        plan.exponent = (n * xy - x * y) / (n * xx - x * x);
        plan.exponent_stated = true;
    }
    plan.gain_a = std::exp((y - plan.exponent * x) / n);
    plan.gain_stated = true;
}

class StarterDevice {
  public:
    StarterDevice(StarterText& out, const StarterSwitch& of)
        : out_(out), of_(of), sheet_(of.sheet), typical_(of.typical) {}

    void device() {
        out_.open("device");
        out_.plain("kind", name_of(sheet_.kind));
        out_.either("gate_resistance", sheet_.gate_resistance_ohm, typical_.gate_resistance_ohm,
                    Dimension::resistance, "40 %");
        package();
        if (cascode()) {
            cascode_dice();
        } else {
            const ChannelPlan plan = channel_plan();
            channel(plan, on_resistance_knee(plan, of_.high_v), "the datasheet's on resistance",
                    typical_.knee_v);
            capacitance();
        }
        out_.close();
        out_.line("");
    }

  private:
    bool cascode() const { return sheet_.kind == DeviceKind::cascode; }

    void package() {
        const Package& usual = typical_.package;
        out_.open("package");
        out_.either("gate", sheet_.package.gate_h, usual.gate_h, Dimension::inductance, "40 %");
        out_.either("drain", sheet_.package.drain_h, usual.drain_h, Dimension::inductance, "40 %");
        out_.either("source", sheet_.package.source_h, usual.source_h, Dimension::inductance, "40 %");
        if (sheet_.leads == 4)
            out_.either("kelvin", sheet_.package.kelvin_h, *usual.kelvin_h, Dimension::inductance, "40 %");
        out_.close();
    }

    ChannelPlan channel_plan() const {
        ChannelPlan out;
        out.threshold_v = sheet_.threshold_v.value_or(typical_.threshold_v);
        out.exponent = typical_.exponent;
        out.curves = sheet_.transfer;
        for (TransferCurve& curve : out.curves) {
            const auto& [v, a] = curve.points.front();
            if (sheet_.threshold_v && a > 0 && *sheet_.threshold_v < v)
                curve.points.insert(curve.points.begin(), {*sheet_.threshold_v, 0.0});
        }
        if (!sheet_.points.empty()) {
            fit(out, sheet_.points);
            return out;
        }
        const bool on_at_zero = sheet_.kind == DeviceKind::jfet;
        const double over = on_at_zero ? std::abs(out.threshold_v) : typical_.overdrive_v;
        out.gain_a = (on_at_zero ? typical_.times_at_zero : 1) * of_.rated_a / std::pow(over, out.exponent);
        return out;
    }

    /// tanh(vds/knee) is vds/knee where it begins: the on resistance is knee over saturated current.
    std::optional<double> on_resistance_knee(const ChannelPlan& plan, double vgs_v) const {
        if (!sheet_.on_resistance_ohm) return std::nullopt;
        if (!(plan.current_a(vgs_v) > 0))
            throw InputError(
                sheet_.place, "threshold",
                fmt::format("found {}, but the on resistance is at a gate voltage of {}{}; expected "
                            "one below it",
                            engineering(plan.threshold_v, Dimension::voltage),
                            engineering(vgs_v, Dimension::voltage),
                            sheet_.drive_high_v ? "" : " (assumed: `gate_voltage.high`)"));
        return *sheet_.on_resistance_ohm * plan.current_a(vgs_v);
    }

    void channel(const ChannelPlan& plan, const std::optional<double>& knee_v, const std::string& knee_from,
                 double usual_knee_v) {
        out_.open("channel");
        if (plan.curves.empty()) {
            out_.either("threshold", sheet_.threshold_v, plan.threshold_v, Dimension::voltage,
                        sheet_.kind == DeviceKind::hemt ? "0.4 V" : "0.8 V");
            number(plan.gain_stated, "gain", plan.gain_a, Dimension::current, "30 %");
            number(plan.exponent_stated, "exponent", plan.exponent, Dimension::number, "10 %");
        } else {
            transfer(plan.curves);
        }
        if (knee_v)
            out_.derived("knee_voltage", *knee_v, Dimension::voltage, knee_from);
        else
            out_.assumed("knee_voltage", usual_knee_v, Dimension::voltage, "40 %");
        out_.assumed("output_slope", assumed_output_slopes_per_v.front(), Dimension::per_volt, "90 %");
        out_.close();
    }

    void number(bool stated, const char* key, double value, Dimension dimension, const char* tolerance) {
        if (stated)
            out_.derived(key, value, dimension, "the datasheet's points");
        else
            out_.assumed(key, value, dimension, tolerance);
    }

    void transfer(const std::vector<TransferCurve>& curves) {
        const auto list = [](const TransferCurve& curve) {
            std::string out;
            for (const auto& [v, a] : curve.points)
                out +=
                    fmt::format("{}[{}, {}]", out.empty() ? "" : ", ", engineering(v, Dimension::voltage, 9),
                                engineering(a, Dimension::current, 9));
            return "{points: [" + out + "]}";
        };
        if (!curves.front().junction_temperature_degc) {
            out_.plain("transfer", list(curves.front()), "datasheet");
            return;
        }
        out_.open("transfer");
        for (const TransferCurve& curve : curves)
            out_.plain(engineering(*curve.junction_temperature_degc, Dimension::temperature, 9), list(curve),
                       "datasheet");
        out_.close();
    }

    void capacitance() {
        const auto& rows = sheet_.capacitance;
        out_.open("capacitance");
        if (rows.size() > 1) {
            table();
        } else if (rows.size() == 1) {
            const std::string at = "the datasheet, at " + engineering(rows[0].vds_v, Dimension::voltage, 9);
            out_.derived("cgs", rows[0].ciss_f - rows[0].crss_f, Dimension::capacitance,
                         at + ": ciss - crss");
            out_.derived("cgd", rows[0].crss_f, Dimension::capacitance, at + ": crss");
            out_.derived("cds", rows[0].coss_f - rows[0].crss_f, Dimension::capacitance,
                         at + ": coss - crss");
        } else {
            out_.assumed("cgs", of_.size * typical_.capacitance.cgs_f, Dimension::capacitance, "30 %");
            out_.assumed("cgd", of_.size * typical_.capacitance.cgd_f, Dimension::capacitance, "40 %");
            out_.assumed("cds", of_.size * typical_.capacitance.cds_f, Dimension::capacitance, "30 %");
        }
        out_.close();
    }

    void table() {
        const auto farads = [](double f) { return engineering(f, Dimension::capacitance, 9); };
        out_.line("    table:                              # datasheet");
        for (const auto& row : sheet_.capacitance)
            out_.line(fmt::format("      - {{vds: {}, ciss: {}, coss: {}, crss: {}}}",
                                  engineering(row.vds_v, Dimension::voltage, 9), farads(row.ciss_f),
                                  farads(row.coss_f), farads(row.crss_f)));
        if (sheet_.capacitance_gate_v)
            out_.stated("gate_voltage", *sheet_.capacitance_gate_v, Dimension::voltage);
        else if (sheet_.kind == DeviceKind::jfet)
            out_.assumed("gate_voltage", typical_.drive_low_v, Dimension::voltage, "10 %",
                         "measured while it blocks");
    }

    // ---- a cascode: the datasheet tells of the two dice together ----

    void cascode_dice() {
        out_.open("bonds");
        out_.assumed("mid", 0.4e-9, Dimension::inductance, "50 %");
        out_.assumed("jfet_gate", 1.2e-9, Dimension::inductance, "50 %");
        out_.close();
        const ChannelPlan mosfet = channel_plan();
        out_.open("mosfet");
        channel(mosfet, std::nullopt, "", typical_.knee_v);
        const auto& rows = sheet_.capacitance;
        const FixedCapacitance& usual = typical_.capacitance;
        out_.open("capacitance");
        if (rows.empty())
            out_.assumed("cgs", of_.size * usual.cgs_f, Dimension::capacitance, "30 %");
        else
            out_.derived("cgs",
                         std::max(rows.back().ciss_f - of_.size * usual.cgd_f, 0.5 * rows.back().ciss_f),
                         Dimension::capacitance, "the datasheet's ciss, less the assumed cgd");
        out_.assumed("cgd", of_.size * usual.cgd_f, Dimension::capacitance, "40 %");
        out_.assumed("cds", of_.size * usual.cds_f, Dimension::capacitance, "40 %");
        out_.close();
        out_.close();
        jfet_die(typical_.knee_v / mosfet.current_a(of_.high_v));
    }

    void jfet_die(double mosfet_ohm) {
        ChannelPlan jfet;
        jfet.threshold_v = -8.5;
        jfet.exponent = 1.8;
        constexpr double times_rated_at_zero = 5;
        jfet.gain_a = times_rated_at_zero * of_.rated_a / std::pow(-jfet.threshold_v, jfet.exponent);
        out_.open("jfet");
        out_.assumed("gate_resistance", 1.2, Dimension::resistance, "40 %");
        out_.open("channel");
        out_.assumed("threshold", jfet.threshold_v, Dimension::voltage, "1.5 V");
        out_.assumed("gain", jfet.gain_a, Dimension::current, "30 %");
        out_.assumed("exponent", jfet.exponent, Dimension::number, "10 %");
        if (sheet_.on_resistance_ohm)
            out_.derived("knee_voltage",
                         std::max(*sheet_.on_resistance_ohm - mosfet_ohm, 0.5 * *sheet_.on_resistance_ohm) *
                             jfet.current_a(0),
                         Dimension::voltage, "the datasheet's on resistance, less the MOSFET's");
        else
            out_.assumed("knee_voltage", 5, Dimension::voltage, "40 %");
        out_.assumed("output_slope", assumed_output_slopes_per_v.front(), Dimension::per_volt, "90 %");
        out_.close();
        jfet_capacitance();
        out_.close();
    }

    /// A cascode's output capacitance is almost wholly the JFET's between drain and gate.
    void jfet_capacitance() {
        const auto& rows = sheet_.capacitance;
        out_.open("capacitance");
        out_.assumed("cgs", of_.size * 1e-9, Dimension::capacitance, "40 %");
        if (rows.empty())
            out_.assumed("cgd", of_.size * cascode_output_f, Dimension::capacitance, "30 %");
        else
            out_.derived("cgd", rows.back().coss_f, Dimension::capacitance,
                         "the datasheet's coss at " + engineering(rows.back().vds_v, Dimension::voltage, 9));
        out_.assumed("cds", 3e-12, Dimension::capacitance, "60 %");
        out_.close();
    }

    StarterText& out_;
    const StarterSwitch& of_;
    const Datasheet& sheet_;
    const Typical& typical_;
};

}  // namespace

StarterSwitch::StarterSwitch(const Datasheet& of, int n)
    : sheet(of),
      positions(n),
      typical(typical_of(of.kind)),
      rated_a(of.rated_current_a.value_or(typical.rated_current_a)),
      size(rated_a / typical.rated_current_a),
      high_v(of.drive_high_v.value_or(typical.drive_high_v)) {}

double StarterSwitch::output_f() const {
    if (!sheet.capacitance.empty()) return sheet.capacitance.back().coss_f;
    if (sheet.kind == DeviceKind::cascode) return size * cascode_output_f;
    return size * (typical.capacitance.cds_f + typical.capacitance.cgd_f);
}

void write_device(StarterText& out, const StarterSwitch& of) {
    StarterDevice(out, of).device();
}

}  // namespace ringquell::internal
