// The windows of the gate resistor, against a dense scan with bisection that knows nothing of how they are
// found.
#include "ringquell/acceptable.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <nlohmann/json.hpp>
#include <numbers>
#include <string>

#include "ringquell/judge.h"
#include "ringquell/operating_path.h"
#include "ringquell/read_case.h"
#include "sizing/e24.h"
#include "support/case_text.h"
#include "support/relative.h"
#include "test_paths.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

const std::string cases = std::string(RINGQUELL_CASES) + "/";
const std::string reference = std::string(RINGQUELL_TEST_DATA) + "/reference/";

struct Scan {
    const Case& input;
    ModeSolver solver;
    std::vector<OperatingPoint> points;  // of one edge, each network once

    Scan(const Case& in, Edge edge) : input(in), solver(in) {
        for (const OperatingPoint& p : operating_path(in).points) {
            if (p.edge != edge || !p.judged) continue;
            if (std::none_of(points.begin(), points.end(),
                             [&](const OperatingPoint& q) { return same_network(p, q); }))
                points.push_back(p);
        }
    }

    /// What the requirement says, written out once more.
    bool acceptable(double resistor_ohm) {
        for (const OperatingPoint& point : points)
            for (const Mode& mode : solver.with_gate_resistor(point, resistor_ohm)) {
                if (mode.kind != ModeKind::differential) continue;
                const std::complex<double> lambda = mode.eigenvalue;
                if (lambda.real() > 1e-12 * std::abs(lambda)) return false;
                const double hz = std::abs(lambda) / (2 * std::numbers::pi);
                if (lambda.imag() != 0 && hz >= input.require.band_low_hz &&
                    hz <= input.require.band_high_hz &&
                    -lambda.real() / std::abs(lambda) < input.require.differential_damping)
                    return false;
            }
        return true;
    }

    double change_between(double low, double high, bool at_low) {
        while (high - low > 1e-10 * high + 1e-13) {
            const double middle = 0.5 * (low + high);
            (acceptable(middle) == at_low ? low : high) = middle;
        }
        return 0.5 * (low + high);
    }

    std::vector<std::pair<double, double>> windows(int steps) {
        std::vector<std::pair<double, double>> out;
        double before = 0;
        bool inside = acceptable(0);
        if (inside) out.emplace_back(0, 0);
        for (int k = 1; k <= steps; ++k) {
            const double r =
                input.require.gate_resistance_limit_ohm * std::pow(static_cast<double>(k) / steps, 2);
            const bool now = acceptable(r);
            if (now != inside) {
                const double end = change_between(before, r, inside);
                if (now)
                    out.emplace_back(end, end);
                else
                    out.back().second = end;
            }
            inside = now;
            before = r;
        }
        if (inside) out.back().second = input.require.gate_resistance_limit_ohm;
        return out;
    }
};

Acceptable sized(const Case& input, Edge edge, Effort effort = Effort::quick) {
    ModeSolver solver(input);
    return acceptable_gate_resistance(solver, operating_path(input).points, edge, effort);
}

void check_equal_to_scan(const Case& input, Edge edge, int steps, double tolerance,
                         Effort effort = Effort::quick) {
    Scan scan(input, edge);
    if (scan.points.empty()) return;
    const auto wanted = scan.windows(steps);
    const Acceptable found = sized(input, edge, effort);
    REQUIRE(found.windows.size() == wanted.size());
    for (size_t i = 0; i < wanted.size(); ++i) {
        CHECK_RELATIVE(found.windows[i].low, wanted[i].first, tolerance);
        CHECK_RELATIVE(found.windows[i].high, wanted[i].second, tolerance);
    }
}

double least_differential_damping(Scan& scan, double resistor_ohm) {
    double least = 2;
    for (const OperatingPoint& point : scan.points)
        for (const Mode& mode : scan.solver.with_gate_resistor(point, resistor_ohm))
            if (mode.kind == ModeKind::differential && mode.oscillates() && in_band(mode, scan.input.require))
                least = std::min(least, mode.damping_ratio());
    return least;
}

Case star(const std::vector<std::string>& settings = {}) {
    return read_case(reference + "star-4-mosfet.yaml", settings);
}

/// Cases of alike positions whose windows differ in kind.
std::vector<Case> alike_cases() {
    const std::string leg =
        "leg={inductance: 6 nH, complementary: {capacitance: 240 pF, on_resistance: 12 mohm}, dc_link: "
        "{capacitance: 100 nF, esr: 20 mohm, esl: 2 nH}}";
    return {star(),
            star({"device.capacitance.cgd=60pF"}),
            star({"gate_path.inductance=20nH", "device.gate_resistance=0ohm"}),
            star({leg}),
            star({leg, "device.channel.transconductance=15S",
                  "require.differential_damping=0.05"}),  // closed above
            star({"device.channel.output_conductance=5mS"}),
            star({"device.capacitance.cgd=200pF", "require.differential_damping=0.3"}),
            read_case(reference + "pair-cascode.yaml"),
            read_case(reference + "pair-with-bead.yaml", {"device.channel.transconductance=120S"}),
            read_case(cases + "ice-rink-cascode.yaml"),
            read_case(cases + "ropeway-first.yaml", {"operation.path.steps=3"})};
}

}  // namespace

TEST_CASE(
    "with positions alike the windows are those of a dense scan with bisection, at least one closed above") {
    bool closed = false;
    int number = 0;
    for (const Case& input : alike_cases()) {
        CAPTURE(number++);
        for (Edge edge : {Edge::turn_on, Edge::turn_off}) {
            check_equal_to_scan(input, edge, 400, 1e-7);
            const Acceptable found = sized(input, edge);
            CHECK(found.complete);
            for (const Window& w : found.windows) closed = closed || w.high_bound == Bound::damping;
        }
    }
    CHECK(closed);
}

TEST_CASE("the windows of the reference cases are the expected ones") {
    int compared = 0;
    for (const std::string name : {"star-4-mosfet", "pair-with-bead", "pair-cascode", "ladder-3-coupled"}) {
        CAPTURE(name);
        const Case input = read_case(reference + name + ".yaml");
        std::ifstream file(reference + name + ".expected.json");
        const auto expected = nlohmann::json::parse(file);
        if (!expected.contains("acceptable_ohm")) continue;
        ++compared;
        for (const auto& [edge_name, wanted] : expected["acceptable_ohm"].items()) {
            CAPTURE(edge_name);
            const Acceptable found = sized(input, edge_name == "turn_on" ? Edge::turn_on : Edge::turn_off);
            REQUIRE(found.windows.size() == wanted.size());
            for (size_t i = 0; i < wanted.size(); ++i) {
                CHECK_RELATIVE(found.windows[i].low, wanted[i][0].get<double>(), 1e-5);
                CHECK_RELATIVE(found.windows[i].high, wanted[i][1].get<double>(), 1e-5);
            }
        }
    }
    CHECK(compared >= 1);
}

TEST_CASE("an uneven layout's windows are those of a dense scan") {
    for (const std::vector<std::string>& settings :
         {std::vector<std::string>{"gate_path[2].inductance=12nH"},
          {"source_path[1].inductance=6nH", "gate_path[4].inductance=9nH"},
          {"device.capacitance.cgd=60pF", "device[3].channel.transconductance=50S"},
          {"buses.source.inductance=1.5nH", "buses.gate.inductance=2nH"}}) {
        const Case input = star(settings);
        for (Edge edge : {Edge::turn_on, Edge::turn_off}) {
            // The adaptive search ends each window to 1e-6 ohm.
            check_equal_to_scan(input, edge, 150, 1e-6, Effort::adaptive);
            CHECK(!sized(input, edge, Effort::adaptive).complete);
            check_equal_to_scan(input, edge, 150, 1e-8, Effort::complete);
            const Acceptable complete = sized(input, edge, Effort::complete);
            CHECK(complete.complete);
            CHECK(complete.pencil_order > 0);
        }
    }
}

TEST_CASE("at an end bounded by damping the least damped differential mode sits on the target") {
    int ends = 0;
    auto inputs = alike_cases();
    inputs.push_back(star({"gate_path[2].inductance=12nH"}));
    for (const Case& input : inputs)
        for (Edge edge : {Edge::turn_on, Edge::turn_off}) {
            Scan scan(input, edge);
            if (scan.points.empty()) continue;
            for (const Window& w : sized(input, edge).windows)
                for (const auto& [end, bound] :
                     {std::pair(w.low, w.low_bound), std::pair(w.high, w.high_bound)}) {
                    if (bound != Bound::damping) continue;
                    ++ends;
                    CHECK_RELATIVE(least_differential_damping(scan, end), input.require.differential_damping,
                                   1e-6);
                }
        }
    CHECK(ends >= 10);
}

TEST_CASE("a mode that grows outside the band bounds a window by growth") {
    const Case input = star({"require.band=[1 MHz, 2 MHz]"});
    const Acceptable found = sized(input, Edge::turn_on);
    REQUIRE(found.windows.size() == 1);
    CHECK(found.windows[0].low_bound == Bound::growth);
    CHECK(found.windows[0].high_bound == Bound::limit);
    CHECK(found.windows[0].low_point == "rise");
    check_equal_to_scan(input, Edge::turn_on, 400, 1e-7);
}

TEST_CASE("a mode that enters or leaves the band bounds a window by the band") {
    const Case whole_band = star();
    const double damped = sized(whole_band, Edge::turn_on).windows.at(0).low;
    const double steady = sized(star({"require.band=[1 MHz, 2 MHz]"}), Edge::turn_on).windows.at(0).low;
    REQUIRE(steady < damped);
    // Between the two values the mode neither grows nor meets its target; put an edge of the band where it is
    // half way.
    const double half_way = 0.5 * (steady + damped);
    Scan scan(whole_band, Edge::turn_on);
    const auto frequency = [&](double r) {
        const std::vector<Mode> modes = scan.solver.with_gate_resistor(scan.points[0], r);
        return std::min_element(
                   modes.begin(), modes.end(),
                   [](const Mode& a, const Mode& b) { return a.damping_ratio() < b.damping_ratio(); })
            ->natural_frequency_hz();
    };
    const double edge_hz = frequency(half_way);
    const bool falls = frequency(damped) < edge_hz;
    char band[80];
    std::snprintf(band, sizeof band,
                  falls ? "require.band=[%.17g Hz, 10 GHz]" : "require.band=[1 MHz, %.17g Hz]", edge_hz);
    const Case input = star({band});
    const Acceptable found = sized(input, Edge::turn_on);
    REQUIRE(found.windows.size() == 1);
    CHECK(found.windows[0].low_bound == Bound::band);
    CHECK_RELATIVE(found.windows[0].low, half_way, 1e-7);
}

TEST_CASE(
    "a sweep that begins at a resistor of zero, or at one equal to another value, goes on with the others") {
    const Case input = star();
    const OperatingPath path = operating_path(input);
    // 1.1 ohm is also the chip's gate resistance.
    for (double first : {0.0, 1.0, 1.1}) {
        ModeSolver swept(input), fresh(input);
        swept.with_gate_resistor(path.points[0], first);
        CHECK(swept.with_gate_resistor(path.points[0], 12).front().eigenvalue ==
              fresh.with_gate_resistor(path.points[0], 12).front().eigenvalue);
    }
}

TEST_CASE("one position has nothing to swing against: every resistance is acceptable") {
    const Acceptable found = sized(star({"positions=1"}), Edge::turn_on);
    REQUIRE(found.windows.size() == 1);
    CHECK(found.windows[0].low == 0);
    CHECK(found.windows[0].high == 100);
    CHECK(found.complete);
}

TEST_CASE("a change of kind close beside an end of damping is not passed over") {
    const Case input = read_case(std::string(RINGQUELL_TEST_DATA) + "/kind-beside-an-end.yaml");
    const std::vector<OperatingPoint> points = operating_path(input).points;
    ModeSolver solver(input);
    const Acceptable found = acceptable_gate_resistance(solver, points, Edge::turn_on, Effort::complete);
    REQUIRE(found.windows.size() == 1);
    CHECK(found.windows.front().low_bound == Bound::share);
    const auto fails_at = [&](double ohm) {
        bool fails = false;
        for (const OperatingPoint& p : points) {
            if (p.edge != Edge::turn_on) continue;
            for (const Mode& m : solver.with_gate_resistor(p, ohm))
                fails = fails || (m.kind == ModeKind::differential && misses(m, input.require));
        }
        return fails;
    };
    CHECK(fails_at(0.999 * found.windows.front().low));
    CHECK(!fails_at(1.001 * found.windows.front().low));
}

TEST_CASE("the preferred value is the least E24 value with 30 % margin to both ends, at least 1 ohm") {
    const auto window = [](double low, double high, Bound high_bound) {
        return Window{low, high, Bound::damping, high_bound, {}, {}};
    };
    const auto preferred = [&](double low, double high, Bound bound = Bound::damping) {
        return preferred_value({window(low, high, bound)});
    };
    CHECK(preferred(10.3513, 47, Bound::limit) == 15);  // 13.46 at least
    CHECK(preferred(10, 47, Bound::limit) == 13);       // 13 exactly
    CHECK(preferred(0, 47, Bound::limit) == 1);         // at least 1 ohm
    CHECK(preferred(0.5, 47, Bound::limit) == 1);
    CHECK(preferred(36, 47, Bound::limit) == 47);  // the limit itself asks for no margin
    CHECK(preferred(36.5, 47, Bound::limit) == std::nullopt);
    CHECK(preferred(10, 30) == 13);              // 21 at most
    CHECK(preferred(10, 18.6) == 13);            // 13.02 at most
    CHECK(preferred(10, 18.5) == std::nullopt);  // 12.95 at most
    CHECK(preferred(0, 1.2) == std::nullopt);    // 0.84 at most, but 1 ohm at least
    CHECK(preferred_value({}) == std::nullopt);
    CHECK(preferred_value({window(10, 15, Bound::damping), window(20, 60, Bound::damping)}) ==
          27);  // the second window
}

TEST_CASE("E24 values are found in every decade, each equal to its decimal number") {
    CHECK(e24_at_least(4.7) == 4.7);
    CHECK(e24_at_least(4.700001) == 5.1);
    CHECK(e24_at_least(9.2) == 10);
    CHECK(e24_at_least(91) == 91);
    CHECK(e24_at_least(0.099) == 0.1);
    CHECK(e24_at_least(0.23) == 0.24);
}
