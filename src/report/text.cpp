#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/parts.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

const char* const caution =
    "This is a small-signal screening of lumped elements. It replaces neither measurement nor licensed "
    "practice. A DC link can kill and a\n"
    "failing device can burst: follow local codes, discharge and verify before you touch, and start with "
    "current limit and shields.\n";

std::string internal::damping(double ratio) {
    return fmt::format("{:.3g}", std::abs(ratio) < 1e-12 ? 0.0 : ratio);
}

namespace {

std::string upper(std::string text) {
    for (char& c : text) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
    return text;
}

std::string frequency(double hz) {
    return engineering(hz, Dimension::frequency, 4);
}
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
}  // namespace

std::string internal::place(const OperatingPoint& p) {
    return fmt::format("\"{}\" ({}, {}, {}, complementary device {})", p.name, edge_word(p.edge),
                       engineering(p.vds_v, Dimension::voltage, 3),
                       engineering(p.current_a, Dimension::current, 3), name_of(p.complementary));
}

std::string internal::requirement_line(const Requirement& r) {
    const std::string common = r.common_damping
                                   ? fmt::format("common modes at least {}", damping(*r.common_damping))
                                   : "common modes only reported";
    const std::string passive = r.passive_damping
                                    ? fmt::format(
                                          " (or {} above the gain's part in the power balance, where that is "
                                          "less)",
                                          damping(*r.passive_damping))
                                    : "";
    const std::string gain =
        r.gain_margin ? fmt::format(", nor with all gains {:.3g} times as large", *r.gain_margin) : "";
    return fmt::format(
        "damping ratio of differential modes at least {}{}, {}, {} to {}; nothing may grow at any "
        "frequency{}",
        damping(r.differential_damping), passive, common, frequency(r.band_low_hz), frequency(r.band_high_hz),
        gain);
}

std::string internal::cause_of(const FoundMode& m) {
    if (m.fed_by_gain())
        return fmt::format("Fed by the devices' gain, which takes {} from its damping.",
                           damping(-m.damping_by_gain));
    if (m.damping_by_gain < 0)
        return fmt::format("The loops' own ringing; the devices' gain takes only {} from its damping.",
                           damping(-m.damping_by_gain));
    return "The loops' own ringing; the devices' gain does not feed it.";
}

namespace {

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

}  // namespace

std::string internal::bounded(const Window& w) {
    const auto side = [](Bound b, const std::string& point) {
        if (b == Bound::limit) return std::string("the range searched");
        const char* word = b == Bound::damping  ? "damping"
                           : b == Bound::band   ? "a mode at the band's edge"
                           : b == Bound::growth ? "growth"
                                                : "a mode's change of kind";
        return point.empty() ? std::string(word) : fmt::format("{} at \"{}\"", word, point);
    };
    return fmt::format("{:.6g} to {:.6g} ohm (below: {}; above: {})", w.low, w.high,
                       side(w.low_bound, w.low_point), side(w.high_bound, w.high_point));
}

std::string internal::fitted(const EdgeSizing& s, int digits) {
    const std::string least = engineering(s.fitted_lowest_ohm, Dimension::resistance, digits);
    if (s.fitted_lowest_ohm == s.fitted_highest_ohm) return least;
    return least + " to " + engineering(s.fitted_highest_ohm, Dimension::resistance, digits);
}

bool internal::passage_passes(const CheckResult& r, Edge edge) {
    const auto& passages = r.passages.passages;
    return std::all_of(passages.begin(), passages.end(),
                       [&](const Passage& p) { return p.edge != edge || p.passes(); });
}

bool internal::fitted_passes(const EdgeSizing& s) {
    for (const Window& w : s.acceptable.windows)
        if (s.fitted_lowest_ohm >= w.low && s.fitted_highest_ohm <= w.high) return true;
    return false;
}

const char* internal::fitted_word(const CheckResult& r, Edge edge, const EdgeSizing& s) {
    if (!fitted_passes(s)) return "not acceptable";
    return passage_passes(r, edge) ? "acceptable"
                                   : "acceptable where held, but too much grows in its passage";
}

namespace {

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

}  // namespace

std::string internal::growing_line(const CheckResult& result) {
    if (result.growing.empty()) return {};
    const FoundMode* fastest = &result.growing.front();
    for (const FoundMode& g : result.growing)
        if (g.mode.eigenvalue.real() > fastest->mode.eigenvalue.real()) fastest = &g;
    return fmt::format(
        "Growing: {} {} over the path; the fastest doubles in {}, {} at \"{}\"{}\n", result.growing.size(),
        result.growing.size() == 1 ? "mode" : "modes (counted at each point)",
        engineering(std::log(2.0) / fastest->mode.eigenvalue.real(), Dimension::time, 2),
        fastest->mode.oscillates() ? frequency(fastest->mode.natural_frequency_hz()) : "without oscillating,",
        result.points[fastest->point].point.name,
        in_band(fastest->mode, result.require) ? "" : " (outside the band)");
}

namespace {

/// Beside a verdict alone, the stages judged in passing that would grow if held.
std::string with_stages(std::string line, const CheckResult& result) {
    std::string names;
    for (const Stage& s : result.passages.stages)
        if (!s.held && s.grows_if_held()) names += fmt::format("{}\"{}\"", names.empty() ? "" : ", ", s.name);
    if (!names.empty()) line.insert(line.size() - 1, "; would grow if held: " + names);
    return line;
}

}  // namespace

std::string check_text(const CheckResult& result, bool quiet) {
    std::string out =
        fmt::format("{}: {}{}, {}\n", upper(verdict_name(result.verdict)),
                    result.title.empty() ? "" : result.title + "; ", counted(result.positions, "position"),
                    counted(static_cast<std::int64_t>(result.points.size()), "operating point"));
    if (quiet) return with_stages(std::move(out), result);
    out += fmt::format("Required: {}\n", requirement_line(result.require));
    if (!result.undecided_reason.empty()) out += fmt::format("No verdict: {}.\n", result.undecided_reason);
    out += "\n";
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
    out += growing_line(result);
    out += gain_margin_line(result);
    out += passing_lines(result);
    out += edge_lines(result);
    out += "\n" + sizing_lines(result) + advice_line(result);
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
            const auto die = [&](const char* name, const DieValues& v) {
                return fmt::format(
                    "  {}{}: gm {}, gds {}, cgs {}, cgd {}, cds {}{}\n",
                    r.point.devices.size() > 1 ? fmt::format("position {} ", i + 1) : "", name,
                    engineering(v.transconductance_s, Dimension::conductance),
                    engineering(v.output_conductance_s, Dimension::conductance),
                    engineering(v.cgs_f, Dimension::capacitance),
                    engineering(v.cgd_f, Dimension::capacitance),
                    engineering(v.cds_f, Dimension::capacitance),
                    v.region == DieRegion::unknown ? "" : fmt::format(", {}", region_name(v.region)));
            };
            out += die("MOSFET", d.mosfet);
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
