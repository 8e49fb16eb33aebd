// Warnings of `check` that a practitioner would give.
#include <doctest/doctest.h>

#include <algorithm>
#include <string>

#include "ringquell/check.h"
#include "support/files.h"

using namespace ringquell;
using namespace test_files;

namespace {

bool has_warning(const CheckResult& result, const std::string& part) {
    return std::any_of(result.warnings.begin(), result.warnings.end(),
                       [&](const Warning& w) { return w.text.find(part) != std::string::npos; });
}

}  // namespace

TEST_CASE("a practitioner's warnings come, and stay away where there is no reason") {
    const std::string star = reference + "star-4-mosfet.yaml";
    CHECK(has_warning(
        check(read_case(star, {"couplings=[{between: [gate_path, kelvin_path], coefficient: 0.2}]"})),
        "is the sign right?"));
    CHECK(!has_warning(
        check(read_case(star, {"couplings=[{between: [gate_path, kelvin_path], coefficient: -0.2}]"})),
        "is the sign right?"));
    for (const char* rails : {"buses.drain, buses.source", "\"buses.source[2]\", \"buses.drain[2]\""})
        for (const double k : {0.3, -0.3})
            CHECK(has_warning(
                      check(read_case(star, {"buses={drain: {inductance: 1 nH}, source: {inductance: 1 nH}}",
                                             std::string("couplings=[{between: [") + rails +
                                                 "], coefficient: " + std::to_string(k) + "}]"})),
                      "both count from tap k to tap k + 1") == (k < 0));
    CHECK(has_warning(check(read_case(star, {"common_mode_choke={inductance: 100 nH, leakage: 390 nH}"})),
                      "the wrong way round"));
    CHECK(has_warning(check(read_case(star, {"gate_shunt={capacitance: 1 nF}"})), "without resistance"));
    CHECK(!has_warning(check(read_case(star, {"gate_shunt={capacitance: 1 nF, resistance: 3 ohm}"})),
                       "without resistance"));
    CHECK(has_warning(check(read_case(star, {"gate_path.resistor=11 ohm"})), "passes on paper only"));
    CHECK(!has_warning(check(read_case(star, {"gate_path.resistor=15 ohm"})), "passes on paper only"));
}
