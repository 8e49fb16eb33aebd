#include "page/tables.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "base/lists.h"
#include "case/coupling_names.h"
#include "report/markup.h"
#include "report/parts.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell::internal {

namespace {

std::string cell(const std::string& text) {
    return "<td>" + escaped(text) + "</td>";
}

}  // namespace

std::string worst_table(const CheckResult& r) {
    std::string out =
        "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Worst "
        "modes\"><table><caption>Least damped "
        "modes in the band</caption><thead><tr><th scope=\"col\">Kind</th><th scope=\"col\">Damping "
        "ratio</th><th "
        "scope=\"col\">Asked</th><th scope=\"col\">Verdict</th><th scope=\"col\">Frequency and pace</th><th "
        "scope=\"col\">Where on the path</th><th scope=\"col\">Why</th></tr></thead><tbody>\n";
    const auto row = [&](const char* kind, const std::optional<FoundMode>& m, const std::string& none) {
        if (!m) {
            out += fmt::format("<tr><th scope=\"row\">{}</th><td colspan=\"6\">{}</td></tr>\n", kind, none);
            return;
        }
        const double target = damping_target(m->mode, r.require);
        const std::string many =
            m->mode.multiplicity > 1 ? fmt::format(" {} equal modes.", m->mode.multiplicity) : std::string();
        out += fmt::format(
            "<tr><th scope=\"row\">{}</th><td class=\"number\">{}</td><td class=\"number\">{}</td>", kind,
            damping(m->mode.damping_ratio()), target > 0 ? damping(target) : "above 0");
        out += cell(misses(m->mode, r.require) ? "misses" : "meets") +
               cell(engineering(m->mode.natural_frequency_hz(), Dimension::frequency, 4) + ", " +
                    pace(m->mode)) +
               cell(place(r.points[m->point].point)) + cell(cause_of(*m) + many) + "</tr>\n";
    };
    row("differential", r.worst_differential,
        r.positions > 1 ? "no differential mode oscillates in the band"
                        : "one position: there is nothing for it to swing against");
    row("common", r.worst_common, "no common mode oscillates in the band");
    return out + "</tbody></table></div>\n";
}

std::string sizing_table(const CheckResult& r) {
    if (r.gate_resistance.empty()) return {};
    std::string out =
        "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Gate "
        "resistors\"><table><caption>Gate "
        "resistors</caption><thead><tr><th scope=\"col\">Edge</th><th scope=\"col\">Fitted</th><th "
        "scope=\"col\">Acceptable</th><th scope=\"col\">Preferred (E24)</th><th scope=\"col\">Every bound "
        "found</th></tr></thead><tbody>\n";
    for (const auto& [edge, s] : r.gate_resistance) {
        std::string windows;
        for (const Window& w : s.acceptable.windows) windows += "<p>" + escaped(bounded(w)) + "</p>";
        if (windows.empty())
            windows = fmt::format("<p>no value up to {}</p>",
                                  engineering(r.require.gate_resistance_limit_ohm, Dimension::resistance, 3));
        std::string preferred =
            s.preferred_ohm ? engineering(*s.preferred_ohm, Dimension::resistance, 3) : "none";
        if (s.preferred_ohm && !s.passes_with_preferred)
            preferred += ", but another mode still fails";
        else if (s.preferred_ohm)
            preferred += s.by_samples ? ", 59 samples pass" : ", 30 % margin";
        out += fmt::format(
            "<tr><th scope=\"row\">{}<br><span class=\"key\">{}</span></th>{}<td>{}</td>{}{}</tr>\n",
            edge_word(edge), escaped(s.acceptable.key), cell(fitted(s, 3) + ", " + fitted_word(r, edge, s)),
            windows, cell(preferred),
            cell(s.acceptable.complete ? "yes, of this model"
                                       : "no, sampled: " + s.acceptable.why_not_complete));
    }
    return out + "</tbody></table></div>\n";
}

std::string measured_table(const CheckResult& r) {
    if (r.measured.empty()) return {};
    std::string out =
        "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Measured "
        "rings\"><table><caption>What "
        "was measured, and the nearest mode there; the verdict does not use it</caption><thead><tr><th "
        "scope=\"col\">Point</th><th scope=\"col\">Measured</th><th scope=\"col\">Computed</th><th "
        "scope=\"col\">Kind</th></tr></thead><tbody>\n";
    for (const MeasuredMode& m : r.measured)
        out += fmt::format("<tr><th scope=\"row\">{}</th>{}{}{}</tr>\n", escaped(m.ring.at),
                           cell(ringing(m.seen)), cell(m.nearest ? ringing(*m.nearest) : "-"),
                           cell(m.nearest ? kind_name(m.nearest->kind) : "-"));
    return out + "</tbody></table></div>\n";
}

std::string differences(const NetworkEcho& echo) {
    if (echo.positions.size() < 2) return "<p>All positions are alike.</p>\n";
    std::vector<std::string> keys;
    std::map<std::string, std::vector<std::string>> values;  // by key: a text for each group
    for (size_t g = 0; g < echo.positions.size(); ++g) {
        for (const EchoedBranch& branch : echo.positions[g].branches)
            for (const EchoedValue& v : branch.values) {
                auto [it, added] = values.try_emplace(v.key, echo.positions.size());
                if (added) keys.push_back(v.key);
                std::string& text = it->second[g];
                text += (text.empty() ? "" : ", ") + engineering(v.value, dimension_of(v.kind), 4);
            }
        auto [it, added] = values.try_emplace("loop gate path, chip, Kelvin path", echo.positions.size());
        if (added) keys.push_back("loop gate path, chip, Kelvin path");
        it->second[g] = engineering(echo.positions[g].gate_kelvin_loop_h, Dimension::inductance, 4) +
                        beside_loop(echo.positions[g]);
    }
    std::string head, body;
    for (const EchoedPosition& p : echo.positions)
        head += fmt::format("<th scope=\"col\">Position {}</th>", numbers_text(p.numbers));
    for (const std::string& key : keys) {
        const auto& texts = values.at(key);
        if (std::all_of(texts.begin(), texts.end(), [&](const std::string& t) { return t == texts.front(); }))
            continue;
        body += fmt::format("<tr><th scope=\"row\">{}</th>", escaped(key));
        for (const std::string& text : texts) body += cell(text.empty() ? "-" : text);
        body += "</tr>\n";
    }
    if (body.empty()) return "<p>The positions' own parts are alike; the rails between them are not.</p>\n";
    return "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"What "
           "differs\"><table><caption>What differs "
           "from position to position</caption><thead><tr><th scope=\"col\">Number</th>" +
           head + "</tr></thead><tbody>\n" + body + "</tbody></table></div>\n";
}

std::string loops(const NetworkEcho& echo) {
    std::string out =
        fmt::format("<p>Loop inductances, mutual terms included: gate path, chip and Kelvin path {}",
                    echo.positions.empty()
                        ? "unknown"
                        : engineering(echo.positions.front().gate_kelvin_loop_h, Dimension::inductance) +
                              beside_loop(echo.positions.front()));
    if (!echo.neighbour_loop_h.empty()) {
        const auto [low, high] =
            std::minmax_element(echo.neighbour_loop_h.begin(), echo.neighbour_loop_h.end());
        out +=
            fmt::format("; drain and source between neighbours {}", engineering(*low, Dimension::inductance));
        if (*high != *low) out += " to " + engineering(*high, Dimension::inductance);
    }
    out += fmt::format("; power loop {}.</p>\n", engineering(echo.power_loop_h, Dimension::inductance));
    if (echo.couplings.empty()) return out;
    std::string list;
    constexpr size_t most = 12;
    for (size_t k = 0; k < std::min(most, echo.couplings.size()); ++k)
        list += fmt::format("<li>{}: {} (coefficient {:.3g})</li>", escaped(echo.couplings[k].name),
                            engineering(echo.couplings[k].mutual_h, Dimension::inductance, 3),
                            echo.couplings[k].coefficient);
    if (echo.couplings.size() > most)
        list += fmt::format("<li>and {} more</li>", echo.couplings.size() - most);
    return out + "<p>Mutual inductances:</p><ul>" + list + "</ul>\n";
}

std::string beside_drawings(const Case& input, const EnergyShares& energy, const ShownEnergy& shown) {
    if (energy.empty()) return "";
    constexpr double worth_naming = 0.0005;
    double rest = 1 - shown.with_percentage;
    std::string others;
    for (const auto& [name, share] : energy) {
        if (shown.elements.contains(name) || std::abs(share) < worth_naming) continue;
        rest -= share;
        std::string what = name + ", which this position has not";
        if (name.starts_with("couplings[")) {
            const size_t number = std::stoul(name.substr(name.find('[') + 1));
            const Coupling& c = input.couplings[number - 1];
            what = fmt::format("the coupling of {} and {}", written(c.first), written(c.second));
        }
        others += fmt::format("{}{} ({})", others.empty() ? "" : "; ", percentage(share), what);
    }
    if (std::abs(rest) < worth_naming) rest = 0;
    std::string out = "Percentages are sums over all positions of a part's share of the worst mode's energy";
    if (others.empty() && rest == 0) return out + ", and make 100 % together.";
    out += "; what they leave to 100 % is ";
    if (!others.empty()) out += "in what is not drawn: " + others;
    if (rest != 0)
        out += fmt::format("{}{} in symbols of less than half a per cent each",
                           others.empty() ? "" : ", and ", percentage(rest));
    return out + ".";
}

}  // namespace ringquell::internal
