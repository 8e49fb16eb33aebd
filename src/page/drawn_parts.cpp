#include "page/drawn_parts.h"

#include <fmt/format.h>

#include <algorithm>
#include <complex>
#include <numbers>
#include <vector>

#include "report/markup.h"
#include "ringquell/bead_fit.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

DrawnParts resistor(const std::string& element, double ohm) {
    if (ohm == 0) return {};
    return {{DrawnSymbol::resistor, engineering(ohm, Dimension::resistance, 3), {element}}};
}

DrawnParts inductor(const std::string& element, double henry) {
    if (henry == 0) return {};
    return {{DrawnSymbol::inductor, engineering(henry, Dimension::inductance, 3), {element}}};
}

DrawnParts capacitor(const std::string& element, double farad) {
    if (farad == 0) return {};
    return {{DrawnSymbol::capacitor, engineering(farad, Dimension::capacitance, 3), {element}}};
}

DrawnParts rlc(const std::string& name, const SeriesRlc& x) {
    DrawnParts out = capacitor(name + ".capacitance", x.capacitance_f);
    out += resistor(name + ".resistance", x.resistance_ohm);
    out += inductor(name + ".inductance", x.inductance_h);
    return out;
}

DrawnParts with_esr(const std::string& name, const std::optional<Capacitor>& c) {
    if (!c) return {};
    DrawnParts out = capacitor(name + ".capacitance", c->capacitance_f);
    out += resistor(name + ".esr", c->esr_ohm);
    out += inductor(name + ".esl", c->esl_h);
    return out;
}

DrawnParts bead(const std::string& path, const std::optional<Bead>& b) {
    if (!b) return {};
    constexpr double at_hz = 100e6;
    const double ohm = std::abs(bead_impedance_ohm(*b, {0, 2 * std::numbers::pi * at_hz}));
    return {{DrawnSymbol::bead,
             fmt::format("bead {}\nat {}", engineering(ohm, Dimension::resistance, 2),
                         engineering(at_hz, Dimension::frequency)),
             {path + ".bead"}}};
}

DrawnParts complementary(const std::string& name, const ComplementaryDevice& c, Complementary state,
                         double farad) {
    if (state == Complementary::conducting) return resistor(name + ".on_resistance", c.on_resistance_ohm);
    DrawnParts out = capacitor(name + ".capacitance", farad);
    out += resistor(name + ".resistance", c.resistance_ohm);
    return out;
}

std::string framed(const Sheet& sheet, const Frame& frame, ShownEnergy* shown) {
    if (shown != nullptr) {
        shown->elements.insert(sheet.shown().elements.begin(), sheet.shown().elements.end());
        shown->with_percentage += sheet.shown().with_percentage;
    }
    return fmt::format(
        "<svg viewBox=\"{7:g} 0 {0:g} {1:g}\"{6} role=\"img\" aria-labelledby=\"{2}-title {2}-text\"><title "
        "id=\"{2}-title\">{3}</title><desc id=\"{2}-text\">{4}</desc>\n{5}</svg>\n",
        frame.width, frame.height, frame.id, escaped(frame.title), escaped(frame.description), sheet.svg(),
        frame.device_x ? fmt::format(" data-device=\"{:g}\"", *frame.device_x - frame.left) : "", frame.left);
}

std::string standing_out(const EnergyShares& energy, double heavy) {
    if (energy.empty()) return "";
    std::vector<std::pair<double, std::string>> by_share;
    for (const auto& [name, share] : energy)
        if (share > 0 && share >= heavy) by_share.emplace_back(share, name);
    std::sort(by_share.rbegin(), by_share.rend());
    std::string out = " Most of the worst mode's energy is in ";
    constexpr size_t most = 8;
    for (size_t k = 0; k < std::min(most, by_share.size()); ++k)
        out += fmt::format("{}{} ({})", k ? ", " : "", by_share[k].second, percentage(by_share[k].first));
    return out + ".";
}

}  // namespace ringquell::internal
