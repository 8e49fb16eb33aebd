#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/parts.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

namespace {

/// Two digits where parts vary by tens of per cent.
std::string rough(double ohm) {
    return engineering(ohm, Dimension::resistance, 2);
}
/// A lower end must not be rounded down, nor an upper end up: 10.35 ohm is at least "11".
std::string rough_up(double ohm) {
    if (ohm <= 0) return "0 ohm";
    const double scale = std::pow(10.0, std::floor(std::log10(ohm)) - 1);
    return rough(std::ceil(ohm / scale - 1e-9) * scale);
}

std::string mode_lines(const CheckResult& result, const FoundMode& m, const char* kind) {
    const OperatingPoint& p = result.points[m.point].point;
    std::string out = fmt::format("Worst {} mode{}: damping ratio {}, {} (rings at {}), {}\n  at {}\n", kind,
                                  m.family.empty() ? "" : fmt::format(" (\"{}\")", m.family),
                                  damping(m.mode.damping_ratio()), frequency(m.mode.natural_frequency_hz()),
                                  frequency(m.mode.ringing_frequency_hz()), pace(m.mode), place(p));
    if (m.mode.multiplicity > 1) out += fmt::format("  {} equal modes of this kind.", m.mode.multiplicity);
    if (m.mode.mixed()) out += fmt::format("  Mixed: common share {:.2f}.", m.mode.common_share);
    out += (out.back() == '\n' ? "  " : " ") + cause_of(m) + "\n";
    const auto& passive = result.require.passive_damping;
    if (passive && m.mode.kind == ModeKind::differential)
        out += fmt::format("  It needs {}: {} and the {} that gain takes, at most {}.\n",
                           damping(damping_target(m.mode, result.require)), damping(*passive),
                           damping(m.mode.gain_feed), damping(result.require.differential_damping));
    return out;
}

std::string sampled_line(const Acceptable& a) {
    return fmt::format("  Found by sampling ({} evaluations), a narrow window may have been missed: {}.\n",
                       a.evaluations, a.why_not_complete);
}

std::string sizing_lines(const CheckResult& result) {
    std::string out;
    for (const auto& [edge, s] : result.gate_resistance) {
        const bool passed = passage_passes(result, edge);
        out += fmt::format("Gate resistor for {} ({}): fitted {} ({})", edge_word(edge), s.acceptable.key,
                           fitted(s, 4), fitted_word(result, edge, s));
        if (!s.minimum_ohm) {
            out += fmt::format("; no value up to {} is acceptable\n",
                               rough(result.require.gate_resistance_limit_ohm));
            if (!s.acceptable.complete) out += sampled_line(s.acceptable);
            continue;
        }
        out += fmt::format(", least acceptable {}", engineering(*s.minimum_ohm, Dimension::resistance, 6));
        if (*s.minimum_ohm > 0)
            out += fmt::format(" (as a value to fit: {} or more)", rough_up(*s.minimum_ohm));
        if (s.preferred_ohm) {
            const bool less = fitted_passes(s) && passed && *s.preferred_ohm < s.fitted_lowest_ohm;
            out +=
                fmt::format(", {} {} ({})\n", less ? "may go down to" : "preferred",
                            engineering(*s.preferred_ohm, Dimension::resistance, 3),
                            s.by_samples ? "smallest E24 value with which 59 samples of the tolerances pass"
                                         : "smallest E24 value with 30 % margin");
        } else
            out += s.by_samples ? "; with no E24 value do 59 samples of the tolerances pass\n"
                                : "; no E24 value has 30 % margin to both ends\n";
        for (const Window& w : s.acceptable.windows) out += fmt::format("  acceptable {}\n", bounded(w));
        if (s.fails_with_preferred) {
            const FoundMode& m = *s.fails_with_preferred;
            out += fmt::format("  but with {} a {} mode still fails: damping ratio {}, {}, at \"{}\"\n",
                               engineering(*s.preferred_ohm, Dimension::resistance, 3),
                               kind_name(m.mode.kind), damping(m.mode.damping_ratio()),
                               frequency(m.mode.natural_frequency_hz()), result.points[m.point].point.name);
        }
        if (s.acceptable.complete && s.acceptable.pencil_order > 0)
            out += fmt::format(
                "  Every bound of this uneven layout was found: eigenvalue problems of order {} at {} "
                "points, {}.\n",
                s.acceptable.pencil_order, s.acceptable.pencil_points,
                engineering(s.acceptable.pencil_s, Dimension::time, 2));
        else if (!s.acceptable.complete)
            out += sampled_line(s.acceptable);
    }
    return out;
}

/// Beside a verdict alone, the stages judged in passing that would grow if held.
std::string with_stages(std::string line, const CheckResult& result) {
    std::string names;
    for (const Stage& s : result.passages.stages)
        if (!s.held && s.grows_if_held()) names += fmt::format("{}\"{}\"", names.empty() ? "" : ", ", s.name);
    if (!names.empty()) line.insert(line.size() - 1, "; would grow if held: " + names);
    return line;
}

}  // namespace

std::string check_text(const CheckResult& result, bool quiet, const std::string& plot) {
    std::string out =
        fmt::format("{}: {}{}, {}\n", verdict_word(result.verdict),
                    result.title.empty() ? "" : result.title + "; ", counted(result.positions, "position"),
                    counted(static_cast<std::int64_t>(result.points.size()), "operating point"));
    if (!result.assumed.empty())
        out.insert(out.size() - 1, fmt::format(", on {} assumed {}", result.assumed.size(),
                                               result.assumed.size() == 1 ? "value" : "values"));
    if (quiet) return with_stages(std::move(out), result);
    out += fmt::format("Required: {}\n", requirement_line(result.require));
    if (!result.undecided_reason.empty()) out += fmt::format("No verdict: {}.\n", result.undecided_reason);
    out += "\n" + plot;
    if (result.worst_differential)
        out += mode_lines(result, *result.worst_differential, "differential");
    else if (result.positions > 1)
        out += "No differential mode oscillates in the band.\n";
    else
        out += "One position: there is nothing for it to swing against.\n";
    if (result.worst_common)
        out += mode_lines(result, *result.worst_common, "common");
    else
        out += "No common mode oscillates in the band.\n";
    out += measured_lines(result);
    out += growing_line(result);
    out += gain_margin_line(result);
    out += passing_lines(result);
    out += edge_lines(result);
    out += "\n" + sizing_lines(result) + advice_line(result) + assumed_line(result);
    if (!result.warnings.empty()) {
        out += "\nWarnings\n";
        for (const Warning& w : result.warnings) out += fmt::format("  {}: {}\n", w.key, w.text);
    }
    return out + "\n" + caution;
}

std::string size_text(const CheckResult& result, bool quiet) {
    std::string out = sizing_lines(result);
    if (quiet) return out;
    return out + "\n" + caution;
}

std::string points_text(const CheckResult& result) {
    std::string out = "Operating points and the device values used\n";
    for (const PointResult& r : result.points) {
        out += fmt::format("{}{}, {}\n", place(r.point), r.point.judged ? "" : " (judged in passing)",
                           engineering(r.point.junction_temperature_degc, Dimension::temperature, 4));
        for (size_t i = 0; i < r.point.devices.size(); ++i) {
            const DeviceValues& d = r.point.devices[i];
            const auto& own = r.point.position_temperatures_degc;
            const std::string at = own.empty() || r.point.devices.size() == 1
                                       ? ""
                                       : " at " + engineering(own[i], Dimension::temperature, 4);
            const auto die = [&](const char* name, const DieValues& v) {
                return fmt::format(
                    "  {}{}{}: gm {}, gds {}, cgs {}, cgd {}, cds {}{}\n",
                    r.point.devices.size() > 1 ? fmt::format("position {} ", i + 1) : "", name, at,
                    engineering(v.transconductance_s, Dimension::conductance),
                    engineering(v.output_conductance_s, Dimension::conductance),
                    engineering(v.cgs_f, Dimension::capacitance),
                    engineering(v.cgd_f, Dimension::capacitance),
                    engineering(v.cds_f, Dimension::capacitance),
                    v.region == DieRegion::unknown ? "" : fmt::format(", {}", region_name(v.region)));
            };
            out += die(d.kind == DeviceKind::cascode ? "MOSFET" : kind_word(d.kind), d.mosfet);
            if (!(d.jfet == DieValues{})) out += die("JFET", d.jfet);
            if (d.solved)
                out += fmt::format(
                    "    current {}, gate voltage {}{}\n", engineering(d.current_a, Dimension::current),
                    engineering(d.gate_voltage_v, Dimension::voltage),
                    d.jfet == DieValues{}
                        ? ""
                        : fmt::format(", inner node {}", engineering(d.inner_voltage_v, Dimension::voltage)));
        }
    }
    return out + "\n";
}

}  // namespace ringquell
