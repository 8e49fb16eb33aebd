// The modes followed along the path, as a table.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell {

namespace {

std::string range(double low_hz, double high_hz) {
    const std::string low = engineering(low_hz, Dimension::frequency, 3),
                      high = engineering(high_hz, Dimension::frequency, 3);
    return low == high ? low : fmt::format("{} to {}", low, high);
}

std::string row(const CheckResult& result, const Family& family) {
    double low = std::numeric_limits<double>::infinity(), high = 0, least = low;
    size_t at = 0, points = 0;
    for (size_t p = 0; p < family.eigenvalues.size(); ++p) {
        if (!family.eigenvalues[p]) continue;
        ++points;
        const double size = std::abs(*family.eigenvalues[p]), hz = size / (2 * std::numbers::pi);
        low = std::min(low, hz);
        high = std::max(high, hz);
        if (const double damping = -family.eigenvalues[p]->real() / size; damping < least) {
            least = damping;
            at = p;
        }
    }
    if (points == 0) return {};
    return fmt::format("  {:<16} {:>4} {:>7} {:<26} {:>9.3f}  \"{}\"\n", family.name, family.multiplicity,
                       points, range(low, high), least, result.points[at].point.name);
}

std::string sentence(const CheckResult& result, const FamilyEvent& e) {
    const std::string where = fmt::format("between \"{}\" and \"{}\"", result.points[e.from].point.name,
                                          result.points[e.to].point.name);
    switch (e.change) {
        case FamilyChange::becomes_real:
            return fmt::format("{} stops oscillating {}", e.family, where);
        case FamilyChange::becomes_oscillating:
            return fmt::format("{} begins to oscillate {}", e.family, where);
        case FamilyChange::merges:
            return fmt::format("{} takes {} in {}", e.family, e.other, where);
        case FamilyChange::crosses:
            return fmt::format("{} and {} change places in frequency {}", e.family, e.other, where);
        case FamilyChange::ends:
            return fmt::format("{} cannot be followed {}", e.family, where);
    }
    return {};
}

}  // namespace

std::string families_text(const CheckResult& result) {
    const Families& f = result.families;
    if (!f.not_followed.empty()) return fmt::format("No table of modes: {}.\n\n", f.not_followed);
    std::string out = "Modes along the path, followed by their shapes\n";
    out += fmt::format("  {:<16} {:>4} {:>7} {:<26} {:>9}  {}\n", "name", "x", "points", "natural frequency",
                       "least", "at");
    out += fmt::format("  {:<16} {:>4} {:>7} {:<26} {:>9}\n", "", "", "", "", "damping");
    for (const Family& family : f.families) out += row(result, family);
    for (const FamilyEvent& e : f.events) out += fmt::format("  {}\n", sentence(result, e));
    if (f.unsure)
        out += "  Two modes were too alike at some step to be told apart: their names may be exchanged.\n";
    return out + "\n";
}

}  // namespace ringquell
