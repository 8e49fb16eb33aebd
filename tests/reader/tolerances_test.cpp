// Tolerances that cannot be, as input.
#include <doctest/doctest.h>

#include <string>

#include "support/case_text.h"

TEST_CASE("a share of boards that no number of samples can show is refused") {
    const auto error = [](const std::string& value) {
        return case_text::error_of(case_text::replaced(case_text::base, "damping: 0.1}",
                                                       "damping: 0.1, pass_share: " + value + "}"));
    };
    CHECK(case_text::contains(error("100 %"),
                              "require.pass_share: found `100 %`, expected a share below 1: no number of "
                              "samples can show that all pass"));
    CHECK(error("98 %").empty());
}

TEST_CASE("tolerances that cannot be are refused by key, with what was found") {
    const auto error = [](const std::string& spread) {
        return case_text::error_of(case_text::with_spread(spread));
    };
    CHECK(case_text::contains(error("  gate_path.inductanc: {tolerance: 20 %}\n"),
                              "did you mean `gate_path.inductance`?"));
    CHECK(case_text::contains(error("  gate_path.inductance: {tolerance: 110 %}\n"),
                              "leaves the value above zero"));
    CHECK(case_text::contains(error("  power_loop.inductance: {tolerance: 5 %, vary: position}\n"),
                              "all positions share this; expected `vary: batch`"));
    CHECK(case_text::contains(error("  gate_path.inductance: {tolerance: 5 pF}\n"), "unit of a capacitance"));
    CHECK(case_text::contains(error("  require.differential_damping: {tolerance: 5 %}\n"),
                              "not a part that varies"));
    CHECK(case_text::contains(error("  gate_path.inductance: {tolerance: 5 %, correlation: {with: "
                                    "kelvin_path.inductance, coefficient: 0.5}}\n"),
                              "has no tolerance"));
    CHECK(case_text::contains(error("  gate_path.inductance: {}\n"), "tolerance"));
}
