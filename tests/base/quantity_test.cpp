#include "ringquell/quantity.h"

#include <doctest/doctest.h>

#include <string>

#include "support/relative.h"

using namespace ringquell;

namespace {
std::string error_of(std::string_view text, Dimension dimension) {
    try {
        parse_quantity(text, dimension);
    } catch (const InputError& error) {
        return error.what();
    }
    return "";
}
}  // namespace

TEST_CASE("a quantity is the double nearest to what is written, prefix included") {
    CHECK(parse_quantity("4.7 ohm", Dimension::resistance) == 4.7);
    CHECK(parse_quantity("12nH", Dimension::inductance) == 12e-9);
    CHECK(parse_quantity("7 nH", Dimension::inductance) == 7e-9);
    CHECK(parse_quantity("0.5 mohm", Dimension::resistance) == 0.5e-3);
    CHECK(parse_quantity("-3 nH", Dimension::inductance) == -3e-9);
    CHECK(parse_quantity("1.5e2 pF", Dimension::capacitance) == 150e-12);
    CHECK(parse_quantity("+.5 V", Dimension::voltage) == 0.5);
    CHECK(parse_quantity("125 degC", Dimension::temperature) == 125);
    CHECK(parse_quantity("25 \u00b0C", Dimension::temperature) == 25);
    CHECK(parse_quantity("30 MHz", Dimension::frequency) == 30e6);
    CHECK(parse_quantity("2 mm", Dimension::length) == 2e-3);
    CHECK(parse_quantity("2 m", Dimension::length) == 2);
    CHECK(parse_quantity("0.0004 /V", Dimension::per_volt) == 0.0004);
    CHECK(parse_quantity("0.3 %", Dimension::per_kelvin) == 0.003);
    CHECK(parse_quantity("0.003 /K", Dimension::per_kelvin) == 0.003);
    CHECK(parse_quantity("15 %", Dimension::share) == 0.15);
    CHECK(parse_quantity("0.15", Dimension::share) == 0.15);
    CHECK(parse_quantity("1.7", Dimension::number) == 1.7);
    CHECK(parse_quantity("0e-9999 H", Dimension::inductance) == 0);
}

TEST_CASE("both code points of omega and of micro are accepted") {
    CHECK(parse_quantity("4.7 \u03a9", Dimension::resistance) == 4.7);
    CHECK(parse_quantity("4.7 k\u2126", Dimension::resistance) == 4.7e3);
    CHECK(parse_quantity("1 \u00b5F", Dimension::capacitance) == 1e-6);
    CHECK(parse_quantity("1 \u03bcF", Dimension::capacitance) == 1e-6);
}

// Published check 32: IEC 60062; values as listed at en.wikipedia.org, RKM code.
TEST_CASE("resistors may be given by the code of IEC 60062") {
    CHECK(parse_quantity("R47", Dimension::resistance) == 0.47);
    CHECK(parse_quantity("4R7", Dimension::resistance) == 4.7);
    CHECK(parse_quantity("4K7", Dimension::resistance) == 4700);
    CHECK(parse_quantity("47K3", Dimension::resistance) == 47300);
    CHECK(parse_quantity("1M0", Dimension::resistance) == 1e6);
    CHECK(error_of("4R7", Dimension::inductance) ==
          "found `4R7`, expected an inductance such as `12 nH` (`R7` is not a unit)");
}

TEST_CASE("a wrong quantity is refused with what was found and what was expected") {
    CHECK(error_of("4.7", Dimension::resistance) ==
          "found `4.7`, expected a resistance such as `4.7 ohm` (a unit is missing)");
    CHECK(error_of("4.7 nH", Dimension::resistance) ==
          "found `4.7 nH`, expected a resistance such as `4.7 ohm` (`nH` is the unit of an inductance)");
    CHECK(error_of("4.7 nh", Dimension::inductance) ==
          "found `4.7 nh`, expected an inductance such as `12 nH` (`nh` is not a unit)");
    CHECK(error_of("4,7 nH", Dimension::inductance) ==
          "found `4,7 nH`, expected an inductance such as `12 nH` (a decimal comma: write a point)");
    CHECK(
        error_of("1e400 ohm", Dimension::resistance) ==
        "found `1e400 ohm`, expected a resistance such as `4.7 ohm` (the number is too large or too small)");
    CHECK(error_of("1e99999999999999999999 ohm", Dimension::resistance).find("too large") !=
          std::string::npos);
    for (const char* text : {"", " ", "abc", "nan ohm", "inf ohm", ".", "- ohm", "0x10 ohm", "4,7 ohm",
                             "4.7 ohm ohm", "1 2 ohm", "--1 ohm", "RR", "R", "4R7R", "1..2 ohm"}) {
        INFO(text);
        CHECK(!error_of(text, Dimension::resistance).empty());
    }
    CHECK(error_of("2 V", Dimension::number) ==
          "found `2 V`, expected a number without a unit such as `2` (`V` is the unit of a voltage)");
    CHECK(!error_of("125 mdegC", Dimension::temperature).empty());
    CHECK(!error_of("4 R7", Dimension::resistance).empty());
}

TEST_CASE("what is written in base units reads back to the same double") {
    for (const double value : {4.7, 1.0 / 3.0, 7e-9, -2.5e-300, 1.7976931348623157e308, 5e-324, 0.0})
        for (const Dimension d : {Dimension::resistance, Dimension::temperature, Dimension::per_volt,
                                  Dimension::share, Dimension::per_kelvin, Dimension::number})
            CHECK(parse_quantity(write_quantity(value, d), d) == value);
}

TEST_CASE("for people a quantity has a prefix and no idle zeros") {
    CHECK(engineering(4.7, Dimension::resistance) == "4.7 ohm");
    CHECK(engineering(12e-9, Dimension::inductance) == "12 nH");
    CHECK(engineering(0.5e-3, Dimension::resistance) == "500 uohm");
    CHECK(engineering(999.96, Dimension::resistance, 3) == "1 kohm");
    CHECK(engineering(10.3513, Dimension::resistance, 3) == "10.4 ohm");
    CHECK(engineering(120, Dimension::voltage, 2) == "120 V");
    CHECK(engineering(0, Dimension::resistance) == "0 ohm");
    CHECK(engineering(-3e-9, Dimension::inductance) == "-3 nH");
    CHECK(engineering(0.15, Dimension::share) == "15 %");
    CHECK(engineering(125, Dimension::temperature) == "125 degC");
    CHECK(engineering(300e6, Dimension::frequency) == "300 MHz");
    CHECK(engineering(1.7, Dimension::number) == "1.7");
}
