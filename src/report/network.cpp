// The network of a case in words and as JSON, to be compared with the layout.
#include <fmt/format.h>

#include <cctype>

#include "report/parts.h"
#include "report/values.h"
#include "ringquell/network_echo.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

namespace {

std::string branch_line(const EchoedBranch& b) {
    std::string values;
    for (const EchoedValue& v : b.values)
        values += fmt::format("{}{} {}", values.empty() ? "" : ", ", v.key,
                              engineering(v.value, dimension_of(v.kind)));
    return fmt::format("  {} to {}: {}\n", b.from, b.to, values.empty() ? b.name : values);
}

/// "ohm", "f", "s" or "h".
std::string unit_key(ElementKind kind) {
    std::string out(unit_name(dimension_of(kind)));
    for (char& c : out) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return out;
}

Json branches_json(const std::vector<EchoedBranch>& branches) {
    Json out = Json::array();
    for (const EchoedBranch& b : branches) {
        Json values = Json::array();
        for (const EchoedValue& v : b.values)
            values.push_back({{"key", v.key}, {"value", v.value}, {"unit", unit_key(v.kind)}});
        out.push_back({{"name", b.name}, {"from", b.from}, {"to", b.to}, {"values", values}});
    }
    return out;
}

}  // namespace

Json internal::network_value(const NetworkEcho& echo) {
    Json positions = Json::array(), couplings = Json::array();
    for (const EchoedPosition& p : echo.positions) {
        Json beads = Json::array();
        for (const EchoedBead& b : p.beads)
            beads.push_back(
                {{"key", b.key}, {"inductance_h", b.inductance_h}, {"resistance_ohm", b.resistance_ohm}});
        positions.push_back({{"positions", p.numbers},
                             {"gate_kelvin_loop_h", p.gate_kelvin_loop_h},
                             {"beads", beads},
                             {"branches", branches_json(p.branches)}});
    }
    for (const EchoedCoupling& c : echo.couplings)
        couplings.push_back({{"name", c.name}, {"mutual_h", c.mutual_h}, {"coefficient", c.coefficient}});
    return {{"point", echo.point},
            {"positions", positions},
            {"shared", branches_json(echo.shared)},
            {"neighbour_loop_h", echo.neighbour_loop_h},
            {"power_loop_h", echo.power_loop_h},
            {"power_loop_with_positions_h", echo.power_loop_with_positions_h},
            {"couplings", couplings}};
}

std::string beside_loop(const EchoedPosition& position) {
    std::string out;
    for (const EchoedBead& b : position.beads)
        out += fmt::format("{}{}, {} beside {}", out.empty() ? "; beside it the bead: " : "; ", b.key,
                           engineering(b.inductance_h, Dimension::inductance, 3),
                           engineering(b.resistance_ohm, Dimension::resistance, 3));
    return out;
}

std::string network_text(const NetworkEcho& echo) {
    std::string out =
        fmt::format("The network at \"{}\": what is joined to what (compare with the layout)\n", echo.point);
    for (const EchoedPosition& p : echo.positions) {
        out += fmt::format("Position{} {}{}\n", p.numbers.size() > 1 ? "s" : "", numbers_text(p.numbers),
                           p.numbers.size() > 1 ? ", alike" : "");
        for (const EchoedBranch& b : p.branches) out += branch_line(b);
        out += fmt::format("  loop gate path, chip, Kelvin path: {}{}\n",
                           engineering(p.gate_kelvin_loop_h, Dimension::inductance), beside_loop(p));
    }
    out += "Shared\n";
    for (const EchoedBranch& b : echo.shared) out += branch_line(b);
    out += fmt::format("  power loop: {}, with the positions side by side {}\n",
                       engineering(echo.power_loop_h, Dimension::inductance),
                       engineering(echo.power_loop_with_positions_h, Dimension::inductance));
    for (size_t k = 0; k < echo.neighbour_loop_h.size();) {
        size_t j = k;
        while (j + 1 < echo.neighbour_loop_h.size() &&
               echo.neighbour_loop_h[j + 1] == echo.neighbour_loop_h[k])
            ++j;
        out += fmt::format("  drain-source loop between neighbours {} and {}{}: {}\n", k + 1, k + 2,
                           j > k ? fmt::format(", to {} and {}", j + 1, j + 2) : "",
                           engineering(echo.neighbour_loop_h[k], Dimension::inductance));
        k = j + 1;
    }
    for (const EchoedCoupling& c : echo.couplings)
        out += fmt::format("  {}: mutual inductance {} (coefficient {:.3g})\n", c.name,
                           engineering(c.mutual_h, Dimension::inductance), c.coefficient);
    return out + "\n";
}

}  // namespace ringquell
