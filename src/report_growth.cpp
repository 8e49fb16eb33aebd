#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "report_parts.h"
#include "ringquell/quantity.h"

namespace ringquell {

namespace {

constexpr size_t most_listed = 4;
constexpr double worth_a_line = 1.01;  // factors; less is less than the estimate knows

std::string times(double factor) {
    return factor < 1e4 ? fmt::format("{:.3g} times", factor)
                        : fmt::format("more than 10^{:.0f} times", std::floor(std::log10(factor)));
}

}  // namespace

std::string growth_lines(const PassingGrowths& growths) {
    if (growths.list.empty() && growths.notes.empty()) return {};
    std::string out;
    if (!growths.list.empty())
        out += "In one passage a disturbance grows (no part of the verdict; docs/estimates.md)\n";
    size_t listed = 0;
    for (const PassingGrowth& g : growths.list) {
        if (listed == most_listed || g.factor() < worth_a_line) break;
        ++listed;
        out +=
            fmt::format("  {}: {}, \"{}\" within {}{}{}\n", times(g.factor()), g.family, g.stage,
                        engineering(g.time_s, Dimension::time, 2), g.estimated ? ", estimated" : ", as given",
                        g.judged ? "" : " (shown, not judged)");
    }
    if (listed == 0 && !growths.list.empty())
        out += fmt::format("  none by more than {:.0f} %\n", 100 * (worth_a_line - 1));
    else if (growths.list.size() > listed)
        out += fmt::format("  and {} more that grow less (see --json)\n", growths.list.size() - listed);
    for (const std::string& note : growths.notes)
        out += fmt::format("Growth in one passage is not known: {}.\n", note);
    return out;
}

nlohmann::ordered_json growth_json(const PassingGrowths& growths) {
    nlohmann::ordered_json stages = nlohmann::ordered_json::array();
    for (const PassingGrowth& g : growths.list)
        stages.push_back({{"stage", g.stage},
                          {"junction_temperature_degc", g.junction_temperature_degc},
                          {"family", g.family},
                          {"factor", g.factor()},
                          {"exponent", g.exponent},
                          {"time_s", g.time_s},
                          {"time_estimated", g.estimated},
                          {"largest_real", g.peak_sigma_per_s},
                          {"judged", g.judged}});
    return {{"stages", stages}, {"notes", growths.notes}};
}

}  // namespace ringquell
