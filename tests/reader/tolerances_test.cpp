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

TEST_CASE("correlations that cannot be are refused where they stand") {
    // Column and text of the error that the third tolerance's `correlation` gives.
    const auto error = [](const std::string& correlation,
                          const std::string& key = "device.gate_resistance: {") {
        const std::string text = case_text::error_of(
            case_text::with_spread("  gate_path.inductance: {tolerance: 20 %}\n"
                                   "  kelvin_path.inductance: {tolerance: 20 %}\n"
                                   "  power_loop.inductance: {tolerance: 20 %}\n"
                                   "  " +
                                   key + "tolerance: 10 %, correlation: " + correlation + "}\n"));
        const std::string line = "a.yaml:27:";
        REQUIRE(text.starts_with(line));
        return text.substr(line.size());
    };
    const std::string gate = "{with: gate_path.inductance, coefficient: 0.8}",
                      kelvin = "{with: kelvin_path.inductance, coefficient: 0.8}",
                      source = "spread.device.gate_resistance", single = "device[1].gate_resistance: {";
    CHECK(error("[]") ==
          "58: " + source + ".correlation: found an empty list, expected one correlation or more");
    CHECK(error("0.8") ==
          "58: " + source +
              ".correlation: found `0.8`, expected `{with: KEY, coefficient: 0.8}`, or a list of "
              "such");
    CHECK(error("[" + gate + ", 0.5]") ==
          "107: " + source +
              ".correlation[2]: found `0.5`, expected `{with: KEY, coefficient: 0.8}`, or a list of such");
    CHECK(error("[" + gate + ", {with: kelvin_path.inductance}]") ==
          "107: " + source + ".correlation[2]: the key `coefficient` is missing");
    CHECK(error("[" + gate + ", {with: kelvin_path.inductance, coefficient: 1}]") ==
          "151: " + source +
              ".correlation[2].coefficient: found `1`, expected a number above -1 and below 1");
    CHECK(
        error("[" + gate + ", " + kelvin + "]") ==
        "114: " + source +
            ": is correlated by 0.8 with `gate_path.inductance` and 0.8 with `kelvin_path.inductance`, which "
            "nothing can be at once: given these a variance of -0.28 is left of 1; expected coefficients "
            "that "
            "leave one above zero");
    CHECK(error("[" + gate + ", " + gate + "]") ==
          "114: " + source + ": is correlated with `gate_path.inductance` twice; expected each key once");
    CHECK(error("{with: device.gate_resistance, coefficient: 0.5}") ==
          "65: " + source + ": is correlated with itself; expected another key");
    CHECK(error("{with: gate_path.inductanc, coefficient: 0.5}") ==
          "65: " + source +
              ": is correlated with `gate_path.inductanc`, which has no tolerance with `vary: position`; did "
              "you "
              "mean `gate_path.inductance`?");
    CHECK(error("{with: power_loop.inductance, coefficient: 0.5}") ==
          "65: " + source +
              ": is correlated with `power_loop.inductance`, which has no tolerance with `vary: position`; "
              "valid "
              "here: gate_path.inductance, kelvin_path.inductance");
    CHECK(
        error("{with: gate_path.inductance, coefficient: 0.5}", single) ==
        "68: spread.device[1].gate_resistance: is one number and is correlated with `gate_path.inductance`, "
        "which "
        "varies at each position; expected `gate_path[1].inductance`, or a tolerance of it with `vary: "
        "batch`");
    CHECK(error("{with: driver.inductance, coefficient: 0.5}", single) ==
          "68: spread.device[1].gate_resistance: is correlated with `driver.inductance`, which has no "
          "tolerance; "
          "valid here: power_loop.inductance");
}

TEST_CASE("correlations in a circle, with one position of many, or with what moves as one are refused") {
    const auto error = [](const std::string& spread) {
        return case_text::error_of(case_text::with_spread(spread));
    };
    CHECK(error("  gate_path.inductance: {tolerance: 5 %, correlation: {with: kelvin_path.inductance, "
                "coefficient: "
                "0.5}}\n"
                "  kelvin_path.inductance: {tolerance: 5 %, correlation: {with: gate_path.inductance, "
                "coefficient: "
                "0.5}}\n") ==
          "a.yaml:25:64: spread.kelvin_path.inductance: is correlated with itself by way of others; expected "
          "no "
          "circle");
    CHECK(error("  gate_path.inductance: {tolerance: 5 %, correlation: {with: \"kelvin_path[1].inductance\", "
                "coefficient: 0.5}}\n"
                "  kelvin_path[1].inductance: {tolerance: 5 %}\n") ==
          "a.yaml:24:62: spread.gate_path.inductance: varies at each position and is correlated with "
          "`kelvin_path[1].inductance`, which is of one; expected a key of all positions");
    // Of the two that it names the second is, but for a billionth, the first.
    CHECK(error("  gate_path.inductance: {tolerance: 5 %}\n"
                "  kelvin_path.inductance: {tolerance: 5 %, correlation: {with: gate_path.inductance, "
                "coefficient: "
                "0.9999999999}}\n"
                "  gate_path.resistor: {tolerance: 10 %, correlation: [{with: gate_path.inductance, "
                "coefficient: "
                "0.5}, {with: kelvin_path.inductance, coefficient: 0.5}]}\n") ==
          "a.yaml:26:110: spread.gate_path.resistor: is correlated with `kelvin_path.inductance`, which "
          "moves as "
          "one with those named before it; expected keys that vary apart");
}
