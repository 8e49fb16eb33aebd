// Couplings: what may be named, which inductances are meant, and how far a search may go with them.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "case/coupling_names.h"
#include "case/enum_names.h"
#include "ringquell/explain.h"
#include "ringquell/network.h"
#include "ringquell/network_echo.h"
#include "ringquell/numbers.h"
#include "ringquell/vary.h"
#include "support/case_text.h"
#include "support/moved_number.h"
#include "support/relative.h"
#include "test_paths.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

const std::string ropeway = std::string(RINGQUELL_CASES) + "/ropeway-first.yaml";

Case coupled_ropeway(const std::string& couplings, std::vector<std::string> settings = {}) {
    settings.push_back("couplings=[" + couplings + "]");
    settings.push_back("operation.path.steps=4");
    return read_case(ropeway, settings);
}

CheckResult checked(const Case& input) {
    CheckOptions plain;
    plain.size_gate_resistor = plain.follow_modes = false;
    return check(input, plain);
}

std::vector<std::string> coupling_warnings(const Case& input) {
    std::vector<std::string> out;
    for (const Warning& w : checked(input).warnings)
        if (w.key.starts_with("couplings[")) out.push_back(w.key + ": " + w.text);
    return out;
}

double coupled_henries(const Case& input, Edge edge, const std::string& first, const std::string& second) {
    for (const OperatingPoint& point : operating_path(input).points) {
        if (point.edge != edge) continue;
        const Network network = build_network(input, point);
        for (const Element& e : network.elements)
            if (e.first >= 0 && network.elements[static_cast<size_t>(e.first)].label() == first &&
                network.elements[static_cast<size_t>(e.second)].label() == second)
                return e.value;
        return 0;
    }
    return std::nan("");
}

}  // namespace

TEST_CASE(
    "explain: slopes are central differences where a coupling names one of several inductances of a string") {
    for (const char* coupling : {"{between: [dc_link, drain_path], coefficient: 0.3}",
                                 "{between: [drain_path, power_loop], coefficient: 0.3}",
                                 "{between: [driver.bypass, kelvin_path], coefficient: 0.2}",
                                 "{between: [gate_path, source_path], coefficient: 0.3}"}) {
        CAPTURE(coupling);
        const Case input = coupled_ropeway(coupling);
        int compared = 0;
        for (const ExplainedMode& mode : explain(input, {false}).modes)
            for (const char* key :
                 {"power_loop.inductance", "power_loop.dc_link.esl", "drain_path.inductance",
                  "driver.inductance", "driver.bypass.esl", "kelvin_path.inductance", "gate_path.inductance",
                  "source_path.inductance", "couplings[1].coefficient"})
                for (const ExplainedElement& e : mode.elements) {
                    if (e.share.key != key) continue;
                    CAPTURE(key);
                    constexpr double step = 1e-4;
                    const double slope = (damping_with(input, key, 1 + step, mode.found) -
                                          damping_with(input, key, 1 - step, mode.found)) /
                                         (2 * step);
                    CHECK(std::abs(e.share.damping_slope - slope) <=
                          1e-5 * std::max(std::abs(slope), 1e-3 * mode.found.mode.damping_ratio()));
                    ++compared;
                }
        CHECK(compared >= 8);
    }
}

TEST_CASE("check --network names the inductances that are coupled and their coefficient as given") {
    const Case input = coupled_ropeway(
        "{between: [gate_path, dc_link], mutual: 0.1 nH}, {between: [kelvin_path, driver.bypass], "
        "coefficient: 0.1}");
    const NetworkEcho echo = network_echo(input, operating_path(input).points.front());
    REQUIRE(echo.couplings.size() == 8);
    CHECK(echo.couplings[0].name == "couplings[1]: gate_path[1].inductance and power_loop.dc_link.esl");
    CHECK_RELATIVE(echo.couplings[0].mutual_h, 0.1e-9, 1e-12);
    CHECK_RELATIVE(echo.couplings[0].coefficient, 0.1 / std::sqrt(9.0 * 6.0), 1e-12);
    CHECK(echo.couplings[4].name == "couplings[2]: kelvin_path[1].inductance and driver.bypass.esl");
    CHECK_RELATIVE(echo.couplings[4].mutual_h, 0.1e-9 * std::sqrt(7 * 1.2), 1e-12);
    CHECK(echo.couplings[4].coefficient == 0.1);
}

TEST_CASE(
    "two whole rails are coupled segment by segment, a rail and a shared inductance segment after segment") {
    const std::vector<std::string> rails{"buses.drain={inductance: [1 nH, 2 nH, 3 nH]}",
                                         "buses.source={inductance: [4 nH, 1 nH, 2 nH]}"};
    const auto with = [&](const std::string& couplings) { return coupled_ropeway(couplings, rails); };
    const Case whole = with("{between: [buses.drain, buses.source], coefficient: 0.5}");
    const Case one_by_one = with(
        "{between: [\"buses.drain[1]\", \"buses.source[1]\"], coefficient: 0.5}, {between: "
        "[\"buses.drain[2]\", \"buses.source[2]\"], coefficient: 0.5}, {between: [\"buses.drain[3]\", "
        "\"buses.source[3]\"], coefficient: 0.5}");
    REQUIRE(whole.n() == 4);
    const NetworkEcho echo = network_echo(whole, operating_path(whole).points.front());
    REQUIRE(echo.couplings.size() == 3);
    const double roots[] = {std::sqrt(4.0), std::sqrt(2.0), std::sqrt(6.0)};
    for (size_t k = 0; k < 3; ++k) {
        CHECK(echo.couplings[k].name == "couplings[1]: buses.drain[" + std::to_string(k + 1) +
                                            "].inductance and buses.source[" + std::to_string(k + 1) +
                                            "].inductance");
        CHECK_RELATIVE(echo.couplings[k].mutual_h, 0.5e-9 * roots[k], 1e-12);
        CHECK(echo.couplings[k].coefficient == 0.5);
    }
    for (const OperatingPoint& point : operating_path(whole).points) {
        const Modes a = ModeSolver(whole).solve(point), b = ModeSolver(one_by_one).solve(point);
        REQUIRE(a.modes.size() == b.modes.size());
        for (size_t k = 0; k < a.modes.size(); ++k) CHECK(a.modes[k].eigenvalue == b.modes[k].eigenvalue);
    }
    const Case loop = with("{between: [power_loop, buses.drain], coefficient: 0.1}");
    CHECK(network_echo(loop, operating_path(loop).points.front()).couplings.size() == 3);
    const Case one = with("{between: [\"source_path[2]\", buses.drain], mutual: 0.1 nH}");
    CHECK(network_echo(one, operating_path(one).points.front()).couplings.size() == 3);
    // One number of the case: one row of `explain`, a window of its own, a tolerance.
    const Explanation e = explain(whole, {false});
    REQUIRE(!e.modes.empty());
    int rows = 0;
    for (const ExplainedElement& element : e.modes.front().elements)
        if (element.share.key == "couplings[1].coefficient") {
            ++rows;
            CHECK(element.can_vary);
            const double slope = (damping_with(whole, element.share.key, 1.0001, e.modes.front().found) -
                                  damping_with(whole, element.share.key, 0.9999, e.modes.front().found)) /
                                 2e-4;
            CHECK(std::abs(element.share.damping_slope - slope) <= 1e-5 * std::abs(slope) + 1e-9);
        }
    CHECK(rows == 1);
}

TEST_CASE("a whole rail that is a star has no inductance to couple") {
    const auto error = [](const std::string& couplings) {
        try {
            const Case input = coupled_ropeway(couplings, {"buses.drain={inductance: 1 nH}"});
            build_network(input, operating_path(input).points.front());
        } catch (const InputError& e) {
            return e.text();
        }
        return std::string();
    };
    CHECK(error("{between: [buses.drain, buses.source], coefficient: 0.5}") ==
          "found `buses.source`, which has no inductance in this case; expected an inductance above zero");
}

TEST_CASE("every inductance of the table is a name the reader accepts, and the network couples it") {
    for (const std::string& name : coupled_names()) {
        CAPTURE(name);
        const bool segments = coupled_inductance(name)->counts == Counts::segments;
        const bool bonds = name.starts_with("bonds.");
        const std::string partner = name == "source_path" ? "drain_path" : "source_path";
        std::vector<std::string> settings{
            "couplings=[{between: [\"" + name + (segments ? "[2]" : "") + "\", " + partner +
                "], coefficient: 0.1}]",
            "leg={inductance: 3 nH, complementary: {capacitance: 50 pF}, dc_link: {capacitance: 100 nF, esl: "
            "2 nH}}",
            "gate_shunt={capacitance: 1 nF, resistance: 2 ohm, inductance: 1 nH}"};
        for (const char* rail : rail_names)
            settings.push_back(std::string("buses.") + rail + "={inductance: 1 nH}");
        const Case input =
            read_case(bonds ? std::string(RINGQUELL_CASES) + "/ice-rink-cascode.yaml" : ropeway, settings);
        bool coupled = false;
        for (const OperatingPoint& point : operating_path(input).points) {
            const Network network = build_network(input, point);
            for (const Element& e : network.elements) {
                if (e.first < 0) continue;
                const Element& first = network.elements[static_cast<size_t>(e.first)];
                const std::string element = coupled_inductance(name)->element;
                CHECK(first.name == (segments ? element + "[2].inductance" : element));
                coupled = true;
            }
        }
        CHECK(coupled);
        if (!bonds && !segments) CHECK(is_value_of(coupled_inductance(name)->element, {name, {}}));
    }
}

TEST_CASE("driver.turn_off_bypass and leg.dc_link are coupled where they are") {
    const Case bypass = coupled_ropeway("{between: [driver.turn_off_bypass, dc_link], coefficient: 0.25}");
    CHECK_RELATIVE(
        coupled_henries(bypass, Edge::turn_off, "driver.turn_off_bypass.esl", "power_loop.dc_link.esl"),
        0.25e-9 * std::sqrt(1.2 * 6), 1e-12);
    CHECK(coupled_henries(bypass, Edge::turn_on, "driver.turn_off_bypass.esl", "power_loop.dc_link.esl") ==
          0);
    CHECK(coupling_warnings(bypass).empty());
    const Case leg = coupled_ropeway("{between: [\"leg.dc_link[2]\", \"source_path[2]\"], mutual: -0.7 nH}",
                                     {"leg={inductance: 6 nH, complementary: {capacitance: 240 pF, "
                                      "on_resistance: 12 mohm}, dc_link: {capacitance: "
                                      "100 nF, esr: 20 mohm, esl: 2 nH}}"});
    CHECK_RELATIVE(coupled_henries(leg, Edge::turn_on, "leg[2].dc_link.esl", "source_path[2].inductance"),
                   -0.7e-9, 1e-12);
    CHECK(case_text::error_of(case_text::base +
                              "couplings: [{between: [leg.dclink, driver], coefficient: 0.1}]\n") ==
          "a.yaml:23:24: couplings[1].between[1]: no inductance is named `leg.dclink`; did you mean "
          "`leg.dc_link`?");
}

TEST_CASE("a coupling that no judged network has is said, with the reason") {
    using Texts = std::vector<std::string>;
    CHECK(coupling_warnings(coupled_ropeway("{between: [snubber, source_path], coefficient: 0.2}")).empty());
    CHECK(coupling_warnings(coupled_ropeway("{between: [snubber, source_path], coefficient: 0.2}",
                                            {"snubber.capacitance=0 pF"})) ==
          Texts{"couplings[1]: the coupling between snubber and source_path does nothing: "
                "`snubber.capacitance` is "
                "zero, which opens the string it stands in"});
    CHECK(coupling_warnings(
              coupled_ropeway("{between: [driver.turn_off_bypass, driver.bypass], coefficient: 0.2}")) ==
          Texts{"couplings[1]: the coupling between driver.turn_off_bypass and driver.bypass does nothing: "
                "no judged "
                "network has both at once"});
    CHECK(coupling_warnings(coupled_ropeway("{between: [dc_link, drain_path], coefficient: 0}")).empty());
    CHECK(
        coupling_warnings(coupled_ropeway("{between: [\"buses.gate[1]\", drain_path], coefficient: 0.1}",
                                          {"buses.gate={inductance: 1 nH}", "driver.per_position=buffer"})) ==
        Texts{"couplings[1]: the coupling between buses.gate[1] and drain_path does nothing: there is no "
              "gate rail "
              "here to join the positions"});
    // One point, of turning on, at which the complementary device blocks.
    const std::string one_edge = case_text::replaced(
        case_text::base, "bypass: {capacitance: 1 uF}",
        "turn_off_bypass: {capacitance: 1 uF, esl: 1 nH}, bypass: {capacitance: 1 uF, esl: 1 nH}");
    CHECK(coupling_warnings(case_text::read(
              one_edge + "couplings:\n"
                         "- {between: [driver.bypass, gate_path], coefficient: 0.1}\n"
                         "- {between: [driver.turn_off_bypass, gate_path], mutual: 1 nH}\n")) ==
          Texts{"couplings[2]: the coupling between driver.turn_off_bypass and gate_path does nothing: no "
                "judged point "
                "turns off"});
    CHECK(
        coupling_warnings(case_text::read(
            case_text::replaced(case_text::base, "complementary: {capacitance: 240 pF,", "complementary: {") +
            "couplings: [{between: [power_loop, gate_path], coefficient: 0.1}]\n")) ==
        Texts{"couplings[1]: the coupling between power_loop and gate_path does nothing: "
              "`power_loop.complementary.capacitance` is zero, which opens the string it stands in while the "
              "complementary device blocks, as it does at every judged point"});
}

TEST_CASE("size --vary: a coefficient is searched on both sides of zero, and its ends are the verdict's") {
    const Case input = coupled_ropeway("{between: [gate_path, source_path], coefficient: 0.3}");
    const Varied varied = acceptable_values(input, {"couplings[1].coefficient"});
    CHECK(varied.from == -0.99);
    CHECK(varied.to == 0.99);
    CHECK(varied.acceptable.evaluations < 3000);
    REQUIRE(varied.acceptable.windows.size() == 1);
    const Window& window = varied.acceptable.windows.front();
    CHECK(window.low_bound == Bound::limit);
    CHECK(window.high_bound == Bound::damping);
    const auto passes = [&](double value) {
        Case changed = input;
        changed.couplings.front().coefficient = value;
        for (const PointResult& r : checked(changed).points)
            for (const Mode& m : r.modes.modes)
                if (m.kind == ModeKind::differential && misses(m, input.require)) return false;
        return true;
    };
    CHECK(passes(window.high - 1e-5));
    CHECK(!passes(window.high + 1e-5));
}

TEST_CASE("size --vary: the range ends where the inductance matrix does") {
    const Case input = coupled_ropeway(
        "{between: [gate_path, kelvin_path], mutual: -4 nH}, {between: [gate_path, source_path], mutual: 3 "
        "nH}");
    // Positive definite while L > M1²/L_kelvin + M2²/L_source.
    const double least = 16e-9 / 7 + 9e-9 / 4;
    const Varied varied = acceptable_values(input, {"gate_path.inductance"});
    CHECK(varied.from > least);
    CHECK(varied.from < 1.002 * least);
    CHECK(varied.to == 90e-9);
    // M2² < L_source·(L_gate − M1²/L_kelvin) on either side.
    const double most = std::sqrt(4e-9 * (9e-9 - 16e-9 / 7));
    const Varied mutual = acceptable_values(input, {"couplings[2].mutual"});
    CHECK(mutual.from < -0.998 * most);
    CHECK(mutual.from > -most);
    CHECK(mutual.to > 0.998 * most);
    CHECK(mutual.to < most);
    // A coupling by coefficient leaves any inductance above zero.
    const Varied link = acceptable_values(
        coupled_ropeway("{between: [dc_link, drain_path], coefficient: 0.3}"), {"power_loop.dc_link.esl"});
    CHECK(link.from > 0);
    CHECK(link.from < 0.002 * link.now);
    // A range in which nothing can be has no acceptable value.
    const Varied none = acceptable_values(input, {"gate_path.inductance"}, {1e-9, 2e-9, {}});
    CHECK(none.acceptable.windows.empty());
}

TEST_CASE("explain: values that pass are sought only where the network can be, and pass") {
    for (const char* couplings : {"{between: [gate_path, source_path], coefficient: 0.3}",
                                  "{between: [dc_link, drain_path], coefficient: 0.3}",
                                  "{between: [gate_path, kelvin_path], mutual: -4 nH}, {between: [gate_path, "
                                  "source_path], mutual: 3 nH}"}) {
        CAPTURE(couplings);
        const Case input = coupled_ropeway(couplings);
        const Explanation e = explain(input);
        REQUIRE(e.result.verdict == Verdict::fail);
        int sought = 0;
        for (const ExplainedElement& element : e.modes.front().elements) {
            sought += element.sought;
            if (!element.passes_at) continue;
            CAPTURE(element.share.key);
            Case changed = input;
            for (double* v : find_number(changed, element.share.key).values) *v = *element.passes_at;
            CHECK(checked(changed).verdict == Verdict::pass);
        }
        CHECK(sought > 10);
        for (const std::string& key : layout_keys(input)) {
            CAPTURE(key);
            CHECK_NOTHROW(acceptable_values(input, {key}));
        }
    }
}
