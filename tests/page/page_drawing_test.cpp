// The page's drawings: every part is there, and the percentages over positions and segments make 100 %
// together.
#include <doctest/doctest.h>

#include <cmath>
#include <regex>

#include "page/data.h"
#include "page/drawing.h"
#include "page/tables.h"
#include "ringquell/explain.h"
#include "ringquell/read_case.h"
#include "test_paths.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

const std::string cases = std::string(RINGQUELL_CASES) + "/";

/// What stands beside symbols, in per cent.
double printed(const std::string& svg) {
    static const std::regex number(R"(>(-?[0-9.]+) %</text>)");
    double sum = 0;
    for (auto it = std::sregex_iterator(svg.begin(), svg.end(), number); it != std::sregex_iterator(); ++it)
        sum += std::stod((*it)[1]);
    return sum;
}

/// What the sentences beside the drawings add: numbers in front of a per cent sign but for the 100 %
/// themselves.
double told(std::string text) {
    const size_t from = text.find("100 % is ");
    if (from == std::string::npos) return 0;
    text = text.substr(from + 6);
    static const std::regex number(R"((-?[0-9.]+) %)");
    double sum = 0;
    for (auto it = std::sregex_iterator(text.begin(), text.end(), number); it != std::sregex_iterator(); ++it)
        sum += std::stod((*it)[1]);
    return sum;
}

}  // namespace

TEST_CASE("drawing: the resistances of leads and of a leg stand in it") {
    const Case input =
        read_case(cases + "ropeway-first.yaml",
                  {"device.gate_resistance=1.1 ohm", "device.package.gate_resistance=21 mohm",
                   "device.package.drain_resistance=3.1 mohm", "device.package.source_resistance=4.1 mohm",
                   "device.package.kelvin_resistance=22 mohm",
                   "leg={inductance: 6 nH, resistance: 5.1 mohm, complementary: {capacitance: 90 pF}}"});
    const std::string svg =
        position_drawing(input, operating_path(input).points.front(), 1, EnergyShares{}, nullptr);
    for (const char* value : {">1.12 ohm<", ">3.1 mohm<", ">4.1 mohm<", ">22 mohm<", ">5.1 mohm<"}) {
        CAPTURE(value);
        CHECK(svg.find(value) != std::string::npos);
    }
}

TEST_CASE(
    "drawing: percentages make 100 % with what is said beside them, and a rail that is a row has its own") {
    for (const char* name :
         {"mine-hoist-bus.yaml", "ropeway-first.yaml", "ice-rink-cascode.yaml", "ski-lift-curves.yaml"}) {
        CAPTURE(name);
        const Case input = read_case(cases + name);
        const Explanation e = explain(input, {false});
        for (const ExplainedMode& mode : e.modes) {
            const EnergyShares energy = energy_shares(mode);
            double sum = 0, couplings = 0, rails = 0;
            for (const auto& [element, share] : energy) {
                sum += share;
                if (element.starts_with("couplings[")) couplings += share;
                if (element.starts_with("buses.")) rails += share;
            }
            CHECK(std::abs(sum - 1) < 1e-9);
            const OperatingPoint& point = e.result.points[mode.found.point].point;
            ShownEnergy shown;
            const std::string one = position_drawing(input, point, 1, energy, &shown);
            const std::string shared = shared_drawing(input, point, energy, &shown);
            // Every element is drawn but couplings, which are named beside the drawing.
            for (const auto& [element, share] : energy)
                if (!element.starts_with("couplings[")) CHECK(shown.elements.contains(element));
            const std::string beside = beside_drawings(input, energy, shown);
            // A coupling of many positions is one.
            CHECK(beside.find("the coupling of ") == beside.rfind("the coupling of "));
            CAPTURE(beside);
            // Each of some twenty numbers is rounded to two digits.
            CHECK(std::abs(printed(one) + printed(shared) + told(beside) - 100) < 3);
            CHECK((std::abs(couplings) < 0.0005) == (beside.find("the coupling of ") == std::string::npos));
            if (std::string(name) == "mine-hoist-bus.yaml") {
                CHECK(rails > 0.01);
                CHECK(shared.find("drain rail: a row of 6 taps, fed at tap 3") != std::string::npos);
                CHECK(shared.find("5 times 1.4 nH") != std::string::npos);
                CHECK(shared.find(percentage(energy.at("buses.drain.inductance")) + "</text>") !=
                      std::string::npos);
            } else {
                CHECK(shared.find("drain rail: a star, one node") != std::string::npos);
            }
        }
    }
}

TEST_CASE("drawing: what only another position has is named beside it") {
    const Case input =
        read_case(cases + "ropeway-first.yaml", {"snubber[2].capacitance=0 pF", "snubber[2].resistance=0 ohm",
                                                 "snubber[2].inductance=0 nH", "operation.path.steps=2"});
    const Explanation e = explain(input, {false});
    const EnergyShares energy = energy_shares(e.modes.front());
    const OperatingPoint& point = e.result.points[e.modes.front().found.point].point;
    ShownEnergy shown;
    position_drawing(input, point, 2, energy, &shown);
    shared_drawing(input, point, energy, &shown);
    CHECK(!shown.elements.contains("snubber.capacitance"));
    CHECK(beside_drawings(input, energy, shown).find("(snubber.capacitance, which this position has not)") !=
          std::string::npos);
}

TEST_CASE("drawing: a percentage has two digits and no exponent") {
    CHECK(percentage(0.9996) == "100 %");
    CHECK(percentage(0.1749) == "17 %");
    CHECK(percentage(0.0996) == "10 %");
    CHECK(percentage(0.0142) == "1.4 %");
    CHECK(percentage(-0.14) == "-14 %");
}

TEST_CASE("drawing: every part of the position is there, and what holds the energy stands out") {
    const Case input = read_case(cases + "ropeway-first.yaml");
    const OperatingPoint point = operating_path(input).points.front();
    const std::string plain = position_drawing(input, point, 1, {});
    CHECK(plain.find("class=\"hot\"") == std::string::npos);
    for (const char* value :
         {"9 nH", "6 nH", "1.2 ohm", "7 nH", "470 pF", "6.8 ohm", "210 pF", "3.3 nF", "16 pF"}) {
        CAPTURE(value);
        CHECK(plain.find(value) != std::string::npos);
    }
    const std::string hot = position_drawing(input, point, 1, {{"snubber.capacitance", 0.25}});
    CHECK(hot.find("class=\"hot\"") != std::string::npos);
    CHECK(hot.find("25 %") != std::string::npos);
    CHECK(hot.find("snubber.capacitance (25 %)") != std::string::npos);  // in words, for who cannot see it
    const Case cascode = read_case(cases + "ice-rink-cascode.yaml");
    const std::string tall = position_drawing(cascode, operating_path(cascode).points.front(), 1, {});
    for (const char* value : {"JFET", "400 pH", "600 pH", "1.3 nF", "650 pF"})
        CHECK(tall.find(value) != std::string::npos);
}
