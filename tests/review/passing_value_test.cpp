// The value of one number that would make a case pass by itself.
#include "review/passing_value.h"

#include <doctest/doctest.h>

#include <string>

#include "ringquell/check.h"
#include "ringquell/numbers.h"
#include "support/files.h"

using namespace ringquell;
using namespace ringquell::internal;
using namespace test_files;

namespace {

Case with_value(const std::string& file, const std::string& key, double value) {
    Case input = read_case(reference + file);
    for (double* v : find_number(input, key).values) *v = value;
    return input;
}

}  // namespace

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
