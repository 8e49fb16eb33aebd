// No growth without a word: growth found here, by LAPACK on the matrices of every point, is at a stage that
// failed or that the verdict names; and the walk has every stage that docs/model.md demands.
//
// LAPACK's dgeev takes the explicit A that `export` writes. What grows here is more than a millionth of |λ|;
// the eigenvalues that are zero by structure, which rounding leaves anywhere near zero, are left out.
#include <doctest/doctest.h>
#include <fmt/format.h>
#include <lapacke.h>

#include <Eigen/Core>
#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <set>

#include "network/reducer.h"
#include "ringquell/check.h"
#include "ringquell/network.h"
#include "ringquell/report.h"
#include "support/case_text.h"
#include "test_paths.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

using Names = std::set<std::string>;

std::string joined(const Names& names) {
    return fmt::format("{}", fmt::join(names, ", "));
}

/// The greatest Re λ/|λ| of the network at a point, of all eigenvalues but the zeros by structure.
double greatest_growth(const Case& input, const OperatingPoint& point) {
    StateSpace system = state_space(build_network(input, point));
    const auto n = static_cast<lapack_int>(system.a.rows());
    std::vector<double> real(system.a.rows()), imaginary(system.a.rows());
    REQUIRE(LAPACKE_dgeev(LAPACK_COL_MAJOR, 'N', 'N', n, system.a.data(), n, real.data(), imaginary.data(),
                          nullptr, 1, nullptr, 1) == 0);
    std::vector<std::complex<double>> values;
    for (size_t k = 0; k < real.size(); ++k) values.emplace_back(real[k], imaginary[k]);
    std::sort(values.begin(), values.end(), [](auto a, auto b) { return std::abs(a) < std::abs(b); });
    double greatest = -1;
    for (auto k = static_cast<size_t>(system.structural_zeros); k < values.size(); ++k)
        greatest = std::max(greatest, values[k].real() / std::abs(values[k]));
    return greatest;
}
constexpr double certainly = 1e-6;  // of |λ|

/// The stages that the contract demands of a walk.
Names demanded(const Case& input) {
    Names out;
    if (!input.operation.path) return out;
    const bool cascode = input.positions.front().device.kind == DeviceKind::cascode;
    for (const std::string edge : {"turn_on", "turn_off"}) {
        for (const char* stage : {" current", " voltage"}) out.insert(edge + stage);
        if (cascode) out.insert(edge + " plateau");
        if (input.operation.path->peak_current_a) out.insert(edge + " peak");
    }
    if (cascode) out.insert("turn_off onset");
    return out;
}

/// A result, and what it shows to a reader and to a machine.
struct Shown {
    Case input;
    CheckResult result;
    std::string text;
    nlohmann::json json;
};

Shown shown(const Case& input) {
    CheckOptions options;
    options.size_gate_resistor = false;
    Shown out{input, check(input, options), {}, {}};
    out.text = check_text(out.result);
    out.json = nlohmann::json::parse(check_json(out.result));
    return out;
}

/// Of `stages` of the JSON, the one that holds the point; null for a point that the case names itself.
nlohmann::json stage_of(const Shown& s, const std::string& point) {
    for (const auto& stage : s.json["stages"])
        for (const auto& name : stage["points"])
            if (name == point) return stage;
    return nullptr;
}

/// A stage at which something grows must have failed, or be named with its growth beside the verdict.
bool is_told(const Shown& s, const nlohmann::json& stage) {
    if (stage.is_null() || stage["judged"] == "held")
        return s.json["verdict"] == "fail" && (stage.is_null() || stage["passes"] == false);
    const auto& held = stage["held"];
    return held.contains("damping_ratio") && held["damping_ratio"] < 0 && held["doubling_s"] > 0 &&
           case_text::contains(s.text, fmt::format("\"{}\": ", stage["name"].get<std::string>()));
}

/// How many points grow by LAPACK; each of them must be told.
int check_told(const Shown& s) {
    int growing = 0;
    for (const OperatingPoint& point : operating_path(s.input).points) {
        if (greatest_growth(s.input, point) <= certainly) continue;
        ++growing;
        INFO(s.input.title, ": something grows at \"", point.name, "\", and the verdict does not tell it");
        CHECK(is_told(s, stage_of(s, point.name)));
    }
    return growing;
}

/// The stages of the walk are those demanded, for every junction temperature and assumed slope alike.
void check_stages(const Shown& s) {
    std::map<std::string, Names> walked;  // by variant
    for (const OperatingPoint& point : operating_path(s.input).points)
        if (point.name.size() > point.stage.size() + point.variant.size())
            walked[point.variant].insert(point.stage);
    Names in_json;
    for (const auto& stage : s.json["stages"]) in_json.insert(stage["name"]);
    Names expected_in_json;
    for (const auto& walk : walked) {
        const std::string& variant = walk.first;
        INFO(s.input.title, variant);
        CHECK(joined(walk.second) == joined(demanded(s.input)));
        for (const std::string& stage : demanded(s.input)) expected_in_json.insert(stage + variant);
    }
    CHECK(walked.empty() == !s.input.operation.path.has_value());
    CHECK(joined(in_json) == joined(expected_in_json));
}

/// Devices of two kinds on one board; the layout lets both grow.
std::string board(const std::string& device, const std::string& path) {
    return fmt::format(R"(ringquell: 1
title: a pair
positions: 2
device: {{file: {}/parts/{}}}
gate_path: {{resistor: {{turn_on: 1 ohm, turn_off: 0.5 ohm}}, inductance: 9 nH}}
kelvin_path: {{inductance: 7 nH}}
drain_path: {{resistance: 0.5 mohm, inductance: 5 nH}}
source_path: {{resistance: 0.5 mohm, inductance: 4 nH}}
driver: {{pull_up_resistance: 0.5 ohm, pull_down_resistance: 0.3 ohm, inductance: 4 nH, return_inductance: 3 nH}}
power_loop:
  inductance: 9 nH
  resistance: 20 mohm
  complementary: {{capacitance: 240 pF, on_resistance: 12 mohm}}
  dc_link: {{capacitance: 2 uF, esr: 3 mohm, esl: 4 nH}}
  load: {{inductance: 150 uH}}
operation:
  bus_voltage: 800 V
  load_current: 80 A
  drive: {{high: 15 V, low: -4 V}}
  {}
require: {{differential_damping: 0.05, band: [1 MHz, 300 MHz]}}
)",
                       RINGQUELL_CASES, device, path);
}

/// The same board held at states across a whole edge, as the test chooses them: full current at voltages up
/// to the bus, the complementary device blocking, and shares of it at the bus voltage, the device conducting.
struct Held {
    std::string name, edge;
    bool conducting;
};
std::pair<std::string, std::vector<Held>> held_points() {
    std::string text = "points:\n";
    std::vector<Held> out;
    for (const std::string edge : {"turn_on", "turn_off"}) {
        const auto add = [&](double vds, double current, bool conducting) {
            out.push_back({fmt::format("{} {:g} V {:g} A {}", edge, vds, current, conducting ? "on" : "off"),
                           edge, conducting});
            text += fmt::format("    - {{name: {}, edge: {}, vds: {} V, current: {} A, complementary: {}}}\n",
                                out.back().name, edge, vds, current, conducting ? "conducting" : "blocking");
        };
        for (const double vds : {5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 400.0, 800.0}) add(vds, 80, false);
        for (const double current : {5.0, 10.0, 20.0, 40.0, 80.0}) add(800, current, true);
    }
    return {text, out};
}

/// Where a held state of an edge grows, a stage of the walk of that edge and that state of the complementary
/// device must be told to grow. Returns of how many kinds something grows.
int check_held_states_told(const std::string& device) {
    const auto [points, states] = held_points();
    const Case held = case_text::read(board(device, points));
    const OperatingPath path = operating_path(held);
    Names grow;
    for (size_t k = 0; k < states.size(); ++k)
        if (greatest_growth(held, path.points[k]) > certainly)
            grow.insert(states[k].edge + (states[k].conducting ? " conducting" : " blocking"));
    const Shown walk = shown(case_text::read(board(device, "path: {steps: 12}")));
    Names told;
    for (const auto& stage : walk.json["stages"]) {
        const auto& worst = stage["held"];
        if (!worst.contains("damping_ratio") || worst["damping_ratio"] >= 0 || !is_told(walk, stage))
            continue;
        const std::string name = stage["name"];
        told.insert(name.substr(0, name.find(' ')) +
                    (name.ends_with(" current") ? " conducting" : " blocking"));
    }
    for (const std::string& kind : grow) {
        INFO(device, ": something grows at ", kind, " states, and no stage of the walk tells it");
        CHECK(told.count(kind) == 1);
    }
    return static_cast<int>(grow.size());
}

}  // namespace

TEST_CASE(
    "Whatever grows at a point of a demonstration case is at a stage that failed or that the verdict names") {
    int cases = 0, growing = 0;
    for (const auto& entry : std::filesystem::directory_iterator(RINGQUELL_CASES)) {
        if (entry.path().extension() != ".yaml") continue;
        ++cases;
        const Shown s = shown(read_case(entry.path()));
        INFO(entry.path().string());
        check_stages(s);
        growing += check_told(s);
    }
    CHECK(cases >= 6);
    CHECK(growing > 0);
}

TEST_CASE(
    "The walk of a MOSFET has current, voltage and peak transfer of both edges, the current from the "
    "threshold") {
    const Case input = case_text::read(board("sic-mosfet.yaml", "path: {steps: 6, peak_current: 120 A}"));
    const Shown s = shown(input);
    check_stages(s);
    CHECK(demanded(input) == Names{"turn_on current", "turn_on voltage", "turn_on peak", "turn_off current",
                                   "turn_off voltage", "turn_off peak"});
    for (const auto& stage : s.json["stages"]) CHECK(stage["judged"] == "held");
    CHECK(stage_of(s, "turn_on current 0")["name"] == "turn_on current");
    CHECK(stage_of(s, "turn_off current 0")["name"] == "turn_off current");
    CHECK(check_told(s) > 0);
}

TEST_CASE("The walk of a cascode has the plateau of both edges and the onset of turn-off, too") {
    const Case input = case_text::read(board("sic-cascode.yaml", "path: {steps: 6, peak_current: 100 A}"));
    const Shown s = shown(input);
    check_stages(s);
    CHECK(demanded(input) == Names{"turn_on current", "turn_on voltage", "turn_on plateau", "turn_on peak",
                                   "turn_off current", "turn_off voltage", "turn_off plateau",
                                   "turn_off peak", "turn_off onset"});
    for (const auto& stage : s.json["stages"]) {
        const std::string name = stage["name"];
        if (name.ends_with(" peak")) continue;  // the contract does not say
        const bool held = name.ends_with(" voltage") || name.ends_with(" onset");
        CHECK(stage["judged"] == (held ? "held" : "in passing"));
    }
    CHECK(stage_of(s, "turn_on current 0")["name"] == "turn_on current");
    CHECK(stage_of(s, "turn_off current 0")["name"] == "turn_off current");
    CHECK(check_told(s) > 0);
}

TEST_CASE("What grows at states held across an edge is told of the walk, whatever its stages are called") {
    CHECK(check_held_states_told("sic-mosfet.yaml") > 0);
    CHECK(check_held_states_told("sic-cascode.yaml") > 0);
}

TEST_CASE("The checklist and the build server's file name what would grow if held, as the text does") {
    const Case input =
        case_text::read(board("sic-cascode.yaml", "path: {steps: 6}"), {"require.passing_growth=1e9"});
    const Shown s = shown(input);
    std::string markdown = check_markdown(s.result);
    std::erase(markdown, '\\');
    const std::string junit = check_junit(s.result, "a.yaml");
    int growing = 0;
    for (const auto& stage : s.json["stages"]) {
        if (stage["judged"] == "held" || !is_told(s, stage)) continue;
        ++growing;
        const std::string name = stage["name"];
        INFO(name);
        CHECK(case_text::contains(markdown, name));
        CHECK(case_text::contains(junit, name));
    }
    REQUIRE(growing == 4);
    CHECK_FALSE(case_text::contains(markdown, "no mode grows at any point"));
    CHECK_FALSE(case_text::contains(junit, "no mode grows at any point"));
}
