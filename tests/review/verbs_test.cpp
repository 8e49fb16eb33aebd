// The verbs explain, size --vary, bead, inductance and check --network: sums, derivatives, values that really
// pass.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <string>

#include "review/passing_value.h"
#include "ringquell/explain.h"
#include "ringquell/network_echo.h"
#include "ringquell/numbers.h"
#include "ringquell/read_case.h"
#include "ringquell/vary.h"
#include "support/random_case.h"
#include "support/relative.h"
#include "support/run_command.h"
#include "test_paths.h"

using namespace ringquell;
using namespace ringquell::internal;
using nlohmann::json;

namespace {

const std::string reference = std::string(RINGQUELL_TEST_DATA) + "/reference/";

Case with_value(const std::string& file, const std::string& key, double value) {
    Case input = read_case(reference + file);
    for (double* v : find_number(input, key).values) *v = value;
    return input;
}

const ExplainedElement& row(const ExplainedMode& mode, const std::string& key) {
    const auto it = std::find_if(mode.elements.begin(), mode.elements.end(),
                                 [&](const ExplainedElement& e) { return e.share.key == key; });
    REQUIRE(it != mode.elements.end());
    return *it;
}

bool has_warning(const CheckResult& result, const std::string& part) {
    return std::any_of(result.warnings.begin(), result.warnings.end(),
                       [&](const Warning& w) { return w.text.find(part) != std::string::npos; });
}

}  // namespace

TEST_CASE("explain: energy shares sum to one and damping shares to the damping ratio") {
    for (const char* name : {"star-4-mosfet", "pair-with-bead", "pair-cascode", "ladder-3-coupled"}) {
        CAPTURE(name);
        const Explanation e = explain(read_case(reference + name + ".yaml"), {false});
        REQUIRE(!e.modes.empty());
        for (const ExplainedMode& mode : e.modes) {
            CHECK(std::abs(mode.energy_sum - 1) < 1e-9);
            CHECK(std::abs(mode.damping_sum - mode.found.mode.damping_ratio()) < 1e-9);
        }
    }
}

TEST_CASE("explain: the damping's slope is that of central differences") {
    for (const char* name : {"star-4-mosfet.yaml", "ladder-3-coupled.yaml"}) {
        CAPTURE(name);
        const Case input = read_case(reference + name);
        const Explanation e = explain(input, {false});
        const ExplainedMode& mode = e.modes.front();
        const bool uneven = std::string(name).starts_with("ladder");
        for (const std::string& key :
             uneven ? std::vector<std::string>{"source_path[2].inductance", "kelvin_path[1].inductance",
                                               "gate_path[3].inductance"}
                    : std::vector<std::string>{"source_path.inductance", "device.capacitance.cgd",
                                               "device.channel.transconductance", "device.gate_resistance"}) {
            CAPTURE(key);
            const ElementShare& share = row(mode, key).share;
            const double step = 1e-5;
            const auto damping = [&](double factor) {
                Case changed = input;
                for (double* v : find_number(changed, key).values) *v *= factor;
                const OperatingPath path = operating_path(changed);
                ModeSolver solver(changed);
                const auto modes = solver.solve(path.points[mode.found.point]).modes;
                return std::min_element(modes.begin(), modes.end(),
                                        [&](const Mode& a, const Mode& b) {
                                            return std::abs(a.eigenvalue - mode.found.mode.eigenvalue) <
                                                   std::abs(b.eigenvalue - mode.found.mode.eigenvalue);
                                        })
                    ->damping_ratio();
            };
            CHECK_RELATIVE(share.damping_slope, (damping(1 + step) - damping(1 - step)) / (2 * step), 1e-5);
        }
    }
}

TEST_CASE("explain: a value that would pass alone passes, and just short of it the case fails") {
    const Case input = read_case(reference + "star-4-mosfet.yaml");
    const CheckResult result = check(input, {Method::automatic, false});
    REQUIRE(result.verdict == Verdict::fail);
    for (const char* key : {"gate_path.resistor", "device.capacitance.cgd", "gate_path.inductance"}) {
        CAPTURE(key);
        const auto value = passing_value(input, key, result);
        REQUIRE(value.has_value());
        CHECK(check(with_value("star-4-mosfet.yaml", key, *value), {Method::automatic, false}).verdict ==
              Verdict::pass);
        Case now = input;
        const double short_of = *value + 1e-4 * (*find_number(now, key).values.front() - *value);
        CHECK(check(with_value("star-4-mosfet.yaml", key, short_of), {Method::automatic, false}).verdict ==
              Verdict::fail);
    }
    CHECK(!passing_value(input, "kelvin_path.inductance", result).has_value());
}

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

TEST_CASE("check --network: loops are sums of their inductances and mutual terms") {
    const Case input = read_case(reference + "ladder-3-coupled.yaml",
                                 {"couplings=[{between: [gate_path, kelvin_path], mutual: -2 nH}]"});
    const NetworkEcho echo = network_echo(input, operating_path(input).points.front());
    REQUIRE(echo.positions.size() == 2);  // positions 1 and 2 are alike, 3 has a longer gate path
    CHECK_RELATIVE(echo.positions[0].gate_kelvin_loop_h, (7 + 5 + 4 + 5 - 2 * 2) * 1e-9, 1e-12);
    CHECK_RELATIVE(echo.positions[1].gate_kelvin_loop_h, (12 + 5 + 4 + 5 - 2 * 2) * 1e-9, 1e-12);
    CHECK_RELATIVE(echo.neighbour_loop_h[0], (2 * (4 + 2 + 3 + 3) + 1.2 + 1.0) * 1e-9, 1e-12);
    CHECK_RELATIVE(echo.power_loop_h, 13e-9, 1e-12);
    CHECK_RELATIVE(echo.power_loop_with_positions_h, (13 + 12.0 / 3) * 1e-9, 1e-9);
    REQUIRE(echo.couplings.size() == 3);
    CHECK_RELATIVE(echo.couplings[0].coefficient, -2 / std::sqrt(35.0), 1e-9);
}

TEST_CASE("a practitioner's warnings come, and stay away where there is no reason") {
    const std::string star = reference + "star-4-mosfet.yaml";
    CHECK(has_warning(
        check(read_case(star, {"couplings=[{between: [gate_path, kelvin_path], coefficient: 0.2}]"})),
        "is the sign right?"));
    CHECK(!has_warning(
        check(read_case(star, {"couplings=[{between: [gate_path, kelvin_path], coefficient: -0.2}]"})),
        "is the sign right?"));
    CHECK(has_warning(check(read_case(star, {"common_mode_choke={inductance: 100 nH, leakage: 390 nH}"})),
                      "the wrong way round"));
    CHECK(has_warning(check(read_case(star, {"gate_shunt={capacitance: 1 nF}"})), "without resistance"));
    CHECK(!has_warning(check(read_case(star, {"gate_shunt={capacitance: 1 nF, resistance: 3 ohm}"})),
                       "without resistance"));
    CHECK(has_warning(check(read_case(star, {"gate_path.resistor=11 ohm"})), "passes on paper only"));
    CHECK(!has_warning(check(read_case(star, {"gate_path.resistor=15 ohm"})), "passes on paper only"));
}

TEST_CASE("bead: figures as JSON, a part file that a case can name") {
    Folder folder;
    std::string csv = "frequency_MHz,R_ohm,X_ohm\n";  // an invented bead: 60 ohm beside 80 nH
    for (int k = 0; k <= 60; ++k) {
        const double f = std::pow(10.0, k / 30.0);
        const std::complex<double> l(0, 2 * 3.141592653589793 * f * 1e6 * 80e-9), z = 60.0 * l / (60.0 + l);
        csv += std::to_string(f) + "," + std::to_string(z.real()) + "," + std::to_string(z.imag()) + "\n";
    }
    write(folder.path / "bead.csv", csv);
    const Ran ran = run("bead bead.csv --dc-resistance 0ohm --band 1MHz:100MHz --json - -o bead.yaml",
                        folder.path.string());
    REQUIRE(ran.status == 0);
    const json figures = json::parse(ran.out);
    CHECK(figures.at("sections") == 1);
    CHECK(figures.at("rms_error").get<double>() < 1e-4);
    CHECK(figures.at("points_used") == 61);
    CHECK(figures.at("points_not_passive") == 0);
    write(folder.path / "case.yaml", content(reference + "pair-with-bead.yaml"));
    const Ran checked =
        run("check case.yaml --quiet --set 'gate_path.bead={file: bead.yaml}'", folder.path.string());
    CHECK(checked.err == "");
    CHECK(checked.status <= 1);
    const Ran wrong = run("bead bead.csv --band 100MHz:1MHz", folder.path.string());
    CHECK(wrong.status == 2);
    CHECK(wrong.err.find("the lower frequency first") != std::string::npos);
}

TEST_CASE("bead: what was mended in the file and where the curve ends are warnings on both outputs") {
    Folder folder;
    std::string csv = "frequency_MHz,R_ohm,X_ohm\n";
    for (const double f : {1.0, 2.0, 4.0, 8.0, 8.0, 16.0, 32.0}) {
        const std::complex<double> l(0, 2 * 3.141592653589793 * f * 1e6 * 80e-9), z = 60.0 * l / (60.0 + l);
        csv += std::to_string(f) + "," + std::to_string(z.real()) + "," + std::to_string(z.imag()) + "\n";
    }
    write(folder.path / "bead.csv", csv);
    const std::string
        merged = "line 6 has the frequency of the row before it, 8 MHz: the mean of both is used",
        ends =
            "the data ends at 32 MHz, and the upper end of --band, 100 MHz, is 3.12 times that: "
            "above it the bead is a guess";
    const std::string arguments = "bead bead.csv --dc-resistance 0ohm";
    const json figures = json::parse(run(arguments + " --json -", folder.path.string()).out);
    CHECK(figures.at("warnings") ==
          json{{{"key", "curve"}, {"text", merged}}, {{"key", "curve"}, {"text", ends}}});
    const Ran text = run(arguments, folder.path.string());
    CHECK(text.status == 0);
    CHECK(text.out.find("warning: curve: " + merged + "\n") != std::string::npos);
    CHECK(text.out.find("warning: curve: " + ends + "\n") != std::string::npos);
    CHECK(run(arguments + " --band 1MHz:32MHz", folder.path.string()).out.find(ends) == std::string::npos);
}

TEST_CASE("bead: a fit that misses by more than a fifth says so in the first line, which --quiet prints") {
    Folder folder;
    write(folder.path / "noise.csv",
          "f_MHz,R_ohm,X_ohm\n1,1,5\n2,50,5\n4,2,90\n8,70,1\n16,3,80\n32,90,2\n64,1,4\n100,60,60\n");
    const Ran poor = run("bead noise.csv --quiet --json r.json", folder.path.string());
    CHECK(poor.status == 0);
    CHECK(json::parse(content(folder / "r.json")).at("rms_error").get<double>() > 0.2);
    CHECK(poor.out.starts_with("POOR FIT: "));
    CHECK(std::count(poor.out.begin(), poor.out.end(), '\n') == 1);
    write(folder.path / "bead.csv",
          "f_MHz,R_ohm,X_ohm\n1,0.004,0.5\n3,0.04,1.5\n10,0.4,5\n30,3.5,14\n100,25,25\n");
    CHECK(run("bead bead.csv --quiet", folder.path.string())
              .out.starts_with("1 section over 1 MHz to 100 MHz: "));
}

TEST_CASE("inductance: one number, its source, and a clear word about a slip") {
    const Ran ran = run("inductance round_wire length=2mm diameter=1mm --json -");
    REQUIRE(ran.status == 0);
    CHECK_RELATIVE(json::parse(ran.out).at("inductance_h").get<double>(), 0.625574e-9,
                   1e-6);  // Rosa 1908, published check 20
    CHECK(run("inductance round_wire length=2mm --json -").status == 2);
    CHECK(run("inductance round_wire length=2 diameter=1mm").err.find("unit") != std::string::npos);
    CHECK(run("inductance square_wire length=2mm").status == 2);
}
