#include "ringquell/pickup.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <numbers>

#include "report/parts.h"
#include "report/values.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

namespace {

double degrees(double radians) {
    return radians * 180 / std::numbers::pi;
}

double degrees(std::complex<double> phasor) {
    return std::abs(phasor) == 0 ? 0 : degrees(std::arg(phasor));
}

/// What rounding leaves of a zero is zero.
double clean(double amplitude) {
    constexpr double rounding = 1e-9;
    return amplitude < rounding ? 0 : amplitude;
}

Mode with_eigenvalue(const Mode& mode, std::complex<double> eigenvalue) {
    Mode out = mode;
    out.eigenvalue = eigenvalue;
    return out;
}

std::string phasor(std::complex<double> value) {
    if (clean(std::abs(value)) == 0) return fmt::format("{:>7} {:>9}", "0", "");
    // -0 and 180 are as good as 0 and -180; one of each is shown.
    double angle = std::round(degrees(value));
    if (angle <= -180) angle = 180;
    if (angle == 0) angle = 0;
    return fmt::format("{:>7.3f} {:>5.0f} deg", std::abs(value), angle);
}

std::string positions_text(const PickupMode& m) {
    constexpr size_t most = 12;
    std::string out = fmt::format("  {:<10}{:<20}{}\n", "position", "on the chip", "at the pins");
    for (size_t k = 0; k < m.positions.size() && k < most; ++k) {
        const SwingingPosition& p = m.positions[k];
        std::string line = fmt::format("  {:<8}{}   {}", p.position, phasor(p.chip), phasor(p.pins));
        line.erase(line.find_last_not_of(' ') + 1);
        out += line + "\n";
    }
    if (m.positions.size() > most)
        out += fmt::format("  (and {} more; --json has them all)\n", m.positions.size() - most);
    return out;
}

std::string probed_text(const PickupMode& m) {
    const Mode& before = m.picked.mode;
    if (!m.with_probe)
        return "    The probe changes the mode so much that it cannot be followed: too heavy for this "
               "place.\n";
    const Mode after = with_eigenvalue(before, *m.with_probe);
    const double moved = after.natural_frequency_hz() / before.natural_frequency_hz() - 1;
    // Nothing that a scope shows.
    constexpr double unseen = 1e-5;
    if (std::abs(moved) < unseen && std::abs(after.damping_ratio() - before.damping_ratio()) < unseen)
        return "    The probe itself moves it by less than 0.001 %.\n";
    return fmt::format(
        "    The probe itself moves it from {} to {} ({:+.2g} %), and the damping ratio from {} to {}.\n",
        frequency(before.natural_frequency_hz()), frequency(after.natural_frequency_hz()), 100 * moved,
        damping(before.damping_ratio()), damping(after.damping_ratio()));
}

std::string view_text(const PickupMode& m, const Pickup& result) {
    if (!m.view) return "";
    const PairView& v = *m.view;
    if (v.volts == 0)
        return fmt::format("  Between `{}` and `{}`: nothing. This pair does not see the mode.\n", v.from,
                           v.to);
    std::string out = fmt::format(
        "  Between `{}` and `{}`: {:.3g} V for 1 V on the chip that swings most, {:.0f} deg "
        "to it.\n",
        v.from, v.to, v.volts, degrees(v.phase_rad));
    if (result.probe && result.probe->stands()) out += probed_text(m);
    const std::string step = engineering(result.step_v, Dimension::voltage);
    const std::string at = frequency(m.picked.mode.natural_frequency_hz());
    if (v.rejection_db && *v.rejection_db > 0)
        out += fmt::format(
            "    A step of {} that both nodes make hides 1 V of it on the chip, unless the probe rejects "
            "{:.0f} dB at {}.\n",
            step, *v.rejection_db, at);
    else if (v.rejection_db)
        out += fmt::format(
            "    It shows more of 1 V on the chip than of a step of {} that both nodes make.\n", step);
    if (v.blind_to_common) out += "    Common modes do not show there.\n";
    if (v.inside_device) out += "    One of these nodes lies inside the device, where no probe reaches.\n";
    if (v.bus_voltage_across)
        out += "    The bus voltage stands between these nodes: the ring is a ripple on it.\n";
    return out;
}

const char* stands_for(PairView::StandsFor which) {
    switch (which) {
        case PairView::StandsFor::each_position:
            return "at each position alike";
        case PairView::StandsFor::any_two_positions:
            return "between any two positions";
        case PairView::StandsFor::itself:
            break;
    }
    return "";
}

std::string notes_of(const PairView& v) {
    std::string out = stands_for(v.stands_for);
    const auto add = [&](const char* note) { out += (out.empty() ? "" : "; ") + std::string(note); };
    if (v.blind_to_common) add("no common mode");
    if (v.bus_voltage_across) add("bus voltage across");
    return out;
}

std::string ranking_text(const PickupMode& m, double step_v, size_t most) {
    if (m.ranking.empty()) return "  No pair of nodes outside the chips shows it.\n";
    std::string out = "  Where it shows most, for 1 V on the chip that swings most:\n";
    for (size_t k = 0; k < std::min(most, m.ranking.size()); ++k) {
        const PairView& v = m.ranking[k];
        std::string line = fmt::format("  {:>9}  {:<34}", engineering(v.volts, Dimension::voltage, 3),
                                       v.from + " - " + v.to);
        if (v.rejection_db)
            line += fmt::format(" {:>5}  ",
                                *v.rejection_db > 0 ? fmt::format("{:.0f} dB", *v.rejection_db) : "-");
        line += notes_of(v);
        line.erase(line.find_last_not_of(' ') + 1);
        out += line + "\n";
    }
    if (m.ranking.front().volts > step_v && step_v > 0)
        out +=
            "  The gates hardly move in it: the power path rings, and 1 V there is a small measure of it.\n";
    return out;
}

std::string head_text(const PickupMode& m) {
    const Mode& mode = m.picked.mode;
    std::string why = m.picked.why;
    why.front() = static_cast<char>(std::toupper(static_cast<unsigned char>(why.front())));
    return fmt::format("{}: damping ratio {}, {} at \"{}\"\n", why, damping(mode.damping_ratio()),
                       frequency(mode.natural_frequency_hz()), m.picked.point.name);
}

std::string equal_modes_text(const PickupMode& m) {
    if (!m.one_of_many) return "";
    const int count = m.picked.mode.multiplicity;
    if (m.view && m.view->volts > 0)
        return fmt::format(
            "  One of {} equal modes: the swing that this pair sees. All others have a zero there.\n", count);
    const auto most =
        std::max_element(m.positions.begin(), m.positions.end(),
                         [](const auto& a, const auto& b) { return std::abs(a.chip) < std::abs(b.chip); });
    return fmt::format("  One of {} equal modes: position {} swings against others.\n", count,
                       most->position);
}

std::string quiet_text(const PickupMode& m) {
    if (m.view)
        return fmt::format("{}, {}: {:.3g} V between `{}` and `{}` for 1 V on the chip\n", m.picked.why,
                           frequency(m.picked.mode.natural_frequency_hz()), m.view->volts, m.view->from,
                           m.view->to);
    if (m.ranking.empty())
        return fmt::format("{}: no pair of nodes outside the chips shows it\n", m.picked.why);
    const PairView& best = m.ranking.front();
    return fmt::format("{}, {}: most between `{}` and `{}`, {:.3g} V for 1 V on the chip\n", m.picked.why,
                       frequency(m.picked.mode.natural_frequency_hz()), best.from, best.to, best.volts);
}

Json view_json(const PairView& v) {
    constexpr std::array classes{"itself", "each position", "any two positions"};
    return {{"between", {v.from, v.to}},
            {"volts_per_volt", v.volts},
            {"phase_deg", degrees(v.phase_rad)},
            {"rejection_db", or_null(v.rejection_db)},
            {"bus_voltage_across", v.bus_voltage_across},
            {"inside_device", v.inside_device},
            {"blind_to_common", v.blind_to_common},
            {"stands_for", classes.at(static_cast<size_t>(v.stands_for))}};
}

Json pickup_mode_json(const PickupMode& m) {
    Json positions = Json::array(), ranking = Json::array();
    for (const SwingingPosition& p : m.positions)
        positions.push_back({{"position", p.position},
                             {"chip", std::abs(p.chip)},
                             {"chip_phase_deg", degrees(p.chip)},
                             {"pins", std::abs(p.pins)},
                             {"pins_phase_deg", degrees(p.pins)}});
    for (const PairView& v : m.ranking) ranking.push_back(view_json(v));
    Json out{{"why", m.picked.why}, {"point", m.picked.point.name}};
    out.update(mode_value(m.picked.mode));
    out["one_of_many"] = m.one_of_many;
    out["positions"] = positions;
    out["view"] = m.view ? view_json(*m.view) : Json();
    out["with_probe"] = m.with_probe ? mode_value(with_eigenvalue(m.picked.mode, *m.with_probe)) : Json();
    out["ranking"] = ranking;
    return out;
}

}  // namespace

std::string pickup_text(const Pickup& result, const std::string& file, bool quiet) {
    std::string out;
    if (quiet) {
        for (const PickupMode& m : result.modes) out += quiet_text(m);
        return out;
    }
    out = fmt::format("What a probe would pick up of {}. Nothing is judged.\n", file);
    if (result.modes.empty()) return out + "No mode oscillates in the band, and none grows.\n";
    for (const PickupMode& m : result.modes) {
        out += "\n" + head_text(m);
        out += equal_modes_text(m);
        // What else grows is told more briefly.
        constexpr size_t few = 3;
        out += positions_text(m) + view_text(m, result) +
               ranking_text(m, result.step_v, m.picked.why.starts_with("worst") ? m.ranking.size() : few);
    }
    out +=
        "\nOn the chip: gate to source; at the pins: gate pin to Kelvin or source pin; relative to the chip "
        "that swings "
        "most.\n";
    if (result.step_v > 0)
        out += fmt::format(
            "dB: what a differential probe must reject at the ring's frequency, so that a step of {} that "
            "both\n"
            "nodes make shows no more than 1 V of ring on the chip does.\n",
            engineering(result.step_v, Dimension::voltage));
    out += "\n";
    return out + caution;
}

std::string pickup_json(const Pickup& result, const std::string& file) {
    Json modes = Json::array();
    for (const PickupMode& m : result.modes) modes.push_back(pickup_mode_json(m));
    Json probe;
    if (result.probe)
        probe = {{"between", {result.probe->from, result.probe->to}},
                 {"capacitance_f", result.probe->capacitance_f},
                 {"resistance_ohm", or_null(result.probe->resistance_ohm)},
                 {"inductance_h", result.probe->inductance_h}};
    return printed({{"ringquell", version},
                    {"verb", "pickup"},
                    {"title", result.title},
                    {"file", file},
                    {"probe", probe},
                    {"step_v", result.step_v},
                    {"modes", modes},
                    {"caution", caution}});
}

}  // namespace ringquell
