// Windows of any number of the layout: against dense scans, and where a search could break.
#include "ringquell/vary.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "review/passing_value.h"
#include "ringquell/check.h"
#include "ringquell/numbers.h"
#include "ringquell/operating_path.h"
#include "support/files.h"
#include "support/random_case.h"
#include "support/relative.h"

using namespace ringquell;
using namespace ringquell::internal;
using namespace test_files;

namespace {

/// Where the verdict on differential modes changes as one number moves: a scan with bisection.
std::vector<double> changes(const Case& input, const std::string& key, double from, double to) {
    Case changed = input;
    const Number number = find_number(changed, key);
    const auto passes = [&](double value) {
        for (double* v : number.values) *v = value;
        ModeSolver solver(changed);
        for (const OperatingPoint& point : operating_path(changed).points)
            for (const Mode& mode : solver.solve(point).modes)
                if (mode.kind == ModeKind::differential && misses(mode, changed.require)) return false;
        return true;
    };
    constexpr int steps = 60;
    std::vector<double> out;
    double before = from;
    bool last = passes(from);
    for (int k = 1; k <= steps; ++k) {
        const double value = std::lerp(from, to, static_cast<double>(k) / steps);
        if (const bool now = passes(value); now != last) {
            double a = before, b = value;
            while (b - a > 1e-9 * to) {
                const double middle = 0.5 * (a + b);
                (passes(middle) == last ? a : b) = middle;
            }
            out.push_back(0.5 * (a + b));
            last = now;
        }
        before = value;
    }
    return out;
}

}  // namespace

TEST_CASE("size --vary: the gate resistor's windows come out as for the gate resistor itself") {
    const Varied varied =
        acceptable_values(read_case(reference + "star-4-mosfet.yaml"), {"gate_path.resistor"}, {0, 100, {}});
    CHECK(varied.acceptable.complete);
    REQUIRE(varied.acceptable.windows.size() == 1);
    CHECK_RELATIVE(varied.acceptable.windows[0].low, 10.351281578447882,
                   1e-9);  // expected.json of the reference case
}

TEST_CASE("size --vary: windows of inductances agree with a dense scan, alike and uneven") {
    for (const auto& [name, key] : {std::pair{"star-4-mosfet.yaml", "source_path.inductance"},
                                    {"star-4-mosfet.yaml", "gate_path.inductance"},
                                    {"ladder-3-coupled.yaml", "gate_path[3].inductance"}}) {
        CAPTURE(name);
        CAPTURE(key);
        Case input = read_case(reference + name, {"gate_path.resistor=12ohm"});
        const Varied varied = acceptable_values(input, {key}, {0.0, 60e-9, {}});
        CHECK(varied.acceptable.complete == (std::string(name) == "star-4-mosfet.yaml"));
        constexpr int steps = 150;
        for (int k = 0; k < steps; ++k) {
            const double value = 60e-9 * (k + 0.5) / steps;
            Case changed = input;
            for (double* v : find_number(changed, key).values) *v = value;
            ModeSolver solver(changed);
            bool passes = true;
            for (const OperatingPoint& point : operating_path(changed).points)
                for (const Mode& mode : solver.solve(point).modes)
                    if (mode.kind == ModeKind::differential && misses(mode, changed.require)) passes = false;
            const bool inside =
                std::any_of(varied.acceptable.windows.begin(), varied.acceptable.windows.end(),
                            [&](const Window& w) { return w.low <= value && value <= w.high; });
            CAPTURE(value);
            CHECK(inside == passes);
        }
    }
}

TEST_CASE("size --vary: ends on random cases are those of a dense scan, and windows closed above appear") {
#ifdef RINGQUELL_SANITIZED
    constexpr std::uint64_t cases = 12;
#else
    constexpr std::uint64_t cases = 120;
#endif
    int ends = 0, closed = 0, complete = 0;
    for (std::uint64_t seed = 1; seed <= cases; ++seed) {
        random_case::Generator g(seed);
        const bool alike = seed % 2 == 0;
        const Case input = g.make({g.whole(2, 3), alike, true});
        const std::string key = seed % 3 == 0   ? "source_path.inductance"
                                : seed % 3 == 1 ? "gate_path[2].inductance"
                                                : "gate_path.inductance";
        CAPTURE(seed);
        CAPTURE(key);
        const double from = 0.5e-9, to = 40e-9;
        const Varied varied = acceptable_values(input, {key}, {from, to, false});
        complete += varied.acceptable.complete;
        std::vector<double> found;
        for (const Window& w : varied.acceptable.windows) {
            if (w.low > from) found.push_back(w.low);
            if (w.high < to) found.push_back(w.high);
            closed += w.high < to;
        }
        // What the scan sees must be there; the scan may step over a window, the search may not.
        for (const double value : changes(input, key, from, to)) {
            CAPTURE(value);
            ++ends;
            CHECK(std::any_of(found.begin(), found.end(),
                              [&](double f) { return std::abs(f - value) < 1e-5 * to; }));
        }
    }
    CHECK(ends > static_cast<int>(cases) / 8);
    CHECK(closed > static_cast<int>(cases) / 12);
    CHECK(complete > static_cast<int>(cases) / 3);
}

TEST_CASE("every number of the layout of every demonstration case has its windows") {
    // ropeway-first's drain lead: at those values a pencil of the bounds is singular.
    for (const std::string name : {"ropeway-first", "ropeway-cured", "ropeway-spread", "ice-rink-cascode",
                                   "mine-hoist-bus", "ski-lift-curves"}) {
        CAPTURE(name);
        std::vector<std::string> settings;
        if (!name.starts_with("ice")) settings.push_back("operation.path.steps=2");
        const Case input = read_case(std::string(RINGQUELL_CASES) + "/" + name + ".yaml", settings);
        for (const std::string& key : layout_keys(input)) {
            CAPTURE(key);
            CHECK_NOTHROW(acceptable_values(input, {key}));
        }
    }
}

TEST_CASE("a coupled path's inductance is varied down to almost nothing, not to where its coupling ends") {
    const Case input =
        read_case(std::string(RINGQUELL_CASES) + "/mine-hoist-bus.yaml", {"operation.path.steps=1"});
    for (const std::string key : {"gate_path.inductance", "kelvin_path.inductance"}) {
        const Varied varied = acceptable_values(input, {key});
        CHECK_RELATIVE(varied.from, 1e-3 * varied.now, 1e-5);
    }
    // The other positions keep the coupling.
    CHECK(acceptable_values(input, {"gate_path[2].inductance"}).from == 0);
    const CheckResult result = check(input);
    CHECK_NOTHROW(passing_value(input, "kelvin_path.inductance", result));
}

TEST_CASE(
    "size --vary: a position's temperature is searched within its curves, and its ends are the verdict's") {
    const Case input = demonstration(
        "ski-lift-curves", {"junction_temperature[2]=100 degC", "operation.junction_temperature=25 degC",
                            "operation.path.steps=3"});
    const Varied varied = acceptable_values(input, {"junction_temperature[2]"});
    CHECK(varied.dimension == Dimension::temperature);
    CHECK(varied.from >= 25);
    CHECK(varied.from < 25.2);
    CHECK(varied.to <= 150);
    CHECK(varied.to > 149.8);
    const std::vector<double> wanted = changes(input, "junction_temperature[2]", varied.from, varied.to);
    std::vector<double> found;
    for (const Window& w : varied.acceptable.windows) {
        if (w.low_bound != Bound::limit) found.push_back(w.low);
        if (w.high_bound != Bound::limit) found.push_back(w.high);
    }
    REQUIRE(found.size() == wanted.size());
    for (size_t k = 0; k < found.size(); ++k) CHECK(std::abs(found[k] - wanted[k]) < 1e-3);
}
