#include "ringquell/impedance_file.h"

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <numbers>
#include <string>

#include "parts/impedance_csv.h"
#include "parts/touchstone.h"
#include "support/relative.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

std::string touchstone_error(const std::string& text) {
    try {
        parse_touchstone(text, "a.s1p");
    } catch (const InputError& error) {
        return error.what();
    }
    return "no error";
}

std::string csv_error(const std::string& text) {
    try {
        parse_impedance_csv(text, "a.csv");
    } catch (const InputError& error) {
        return error.what();
    }
    return "no error";
}

/// The first point of a Touchstone text.
ImpedancePoint first(const std::string& text) {
    return parse_touchstone(text, "a.s1p").at(0);
}

std::complex<double> reflection(std::complex<double> z, double r) {
    return (z - r) / (z + r);
}

}  // namespace

TEST_CASE("the examples of the Touchstone 1.1 specification are read") {
    // Published check 24: specification of the IBIS Open Forum; kpobrien/Touchstone.jl.
    const auto s = parse_touchstone("! 1-port S-parameter file\n# MHz S MA R 50\n2 0.894 -12.136\n", "a.s1p");
    REQUIRE(s.size() == 1);
    CHECK(s[0].frequency_hz == 2e6);
    CHECK(std::abs(reflection(s[0].impedance_ohm, 50) - std::complex(0.874020, -0.187948)) < 1e-6);
    // Version 1 normalises Z to R.
    const auto z = first("# MHz Z MA R 75\n100 0.707 -45 ! a comment\n");
    CHECK(std::abs(z.impedance_ohm - std::complex(37.4943, -37.4943)) < 1e-4);
}

TEST_CASE("an empty option line means GHz, S, MA, 50 ohm") {
    const auto p = first("#\n0.5 0.5 0\n");
    CHECK(p.frequency_hz == 0.5e9);
    CHECK(std::abs(p.impedance_ohm - 150.0) < 1e-12);
}

TEST_CASE("options come in any order and case, and later option lines are ignored") {
    const auto p = first("\n! x\n# r 75 ri kHz z\n# GHz S MA R 50\n\t100  1\t2\r\n");
    CHECK(p.frequency_hz == 100e3);
    CHECK(p.impedance_ohm == std::complex(75.0, 150.0));
}

TEST_CASE("decibels and admittances are understood, normalised in version 1 and not in version 2") {
    CHECK_RELATIVE(first("# Hz S DB R 50\n1 -6.020599913279624 0\n").impedance_ohm, 150.0, 1e-12);
    CHECK_RELATIVE(first("# Hz Y RI R 50\n1 0.5 -0.5\n").impedance_ohm, 50.0 / std::complex(0.5, -0.5),
                   1e-15);
    // That version 2 is not normalised: from memory.
    const std::string v2 =
        "[Version] 2.0\n# Hz Y RI R 50\n[Number of Ports] 1\n[Number of Frequencies] 1\n[Network Data]\n";
    CHECK_RELATIVE(first(v2 + "1 0.5 -0.5\n[End]\n").impedance_ohm, 1.0 / std::complex(0.5, -0.5), 1e-15);
}

TEST_CASE("a version 2 file is read, its [Reference] taking the place of R") {
    const auto points = parse_touchstone(
        "! comment\n[Version] 2.0\n# MHz S RI R 50\n[Number of Ports] 1\n[Number of Frequencies] "
        "2\n[Reference]\n 25.0\n"
        "[Begin Information]\n[Manufacturer] none 1 2 3\n[End Information]\n[Matrix Format] Full\n[Network "
        "Data]\n"
        "1 0.5 0\n2 0 0 ! matched\n[End]\nanything after the end\n",
        "a.ts");
    REQUIRE(points.size() == 2);
    CHECK_RELATIVE(points[0].impedance_ohm, 75.0, 1e-14);
    CHECK_RELATIVE(points[1].impedance_ohm, 25.0, 1e-14);
}

TEST_CASE("points that no passive part has are marked, not refused") {
    const auto s = parse_touchstone("# Hz S RI R 50\n1 -1.0003 0\n2 -0.9 0.1\n3 0 1\n", "a.s1p");
    CHECK_FALSE(s[0].passive);
    CHECK(s[1].passive);
    CHECK(s[2].passive);
    const auto z = parse_impedance_csv("f_Hz,R,X\n1,-0.001,1\n2,0,1\n", "a.csv");
    CHECK_FALSE(z[0].passive);
    CHECK(z[1].passive);
    const auto polar = parse_impedance_csv("f_Hz,|Z|,phase\n1,5,90.01\n2,5,90\n3,5,-90\n", "a.csv");
    CHECK_FALSE(polar[0].passive);
    CHECK(polar[1].passive);
    CHECK(polar[2].passive);
}

TEST_CASE("a malformed Touchstone file gives line, column and reason") {
    CHECK(touchstone_error("# MHz S RI R 50\n1 0.5 0\n0.9 0.4 0\n") ==
          "a.s1p:3:1: found 900000 Hz after 1000000 Hz; expected rising frequencies");
    CHECK(touchstone_error("# MHz S RI R 50\n1 0.5 0,3,4\n") ==
          "a.s1p:2:7: found `0,3,4`; expected a number");
    CHECK(touchstone_error("# MHz S RI R 50\n1 nan 0\n") == "a.s1p:2:3: found `nan`; expected a number");
    CHECK(touchstone_error("# MHz S RX R 50\n1 0.5 0\n") ==
          "a.s1p:1:9: found `RX`; expected Hz, kHz, MHz, GHz, S, Y, Z, MA, DB, RI or R and a resistance");
    CHECK(touchstone_error("# MHz S RI R\n") ==
          "a.s1p:1:12: found R without a value; expected a resistance, as in R 50");
    CHECK(touchstone_error("# MHz S RI R 0\n") ==
          "a.s1p:1:14: found reference resistance 0 ohm; expected above 0");
    CHECK(touchstone_error("# MHz H RI R 50\n") ==
          "a.s1p:1:7: found H parameters, which two ports have; expected S, Y or Z");
    CHECK(
        touchstone_error("1 0.5 0\n") ==
        "a.s1p:1:1: found data before an option line; expected `#` with the units, as in `# MHz S RI R 50`");
    CHECK(touchstone_error("# MHz S RI\n1 0 0 0 0 0 0 0 0\n") ==
          "a.s1p:2:1: found 9 values; expected 3: a frequency and one parameter of one port");
    CHECK(touchstone_error("# MHz S MA\n1 -0.5 0\n") ==
          "a.s1p:2:3: found magnitude -0.5; expected 0 or more");
    CHECK(touchstone_error("# MHz S RI\n1 1 0\n") ==
          "a.s1p:2:3: found S = 1, an open circuit; expected a finite impedance");
    CHECK(touchstone_error("") == "a.s1p:1:1: found no data; expected a frequency and one parameter a line");
    CHECK(touchstone_error("[Version] 1.5\n") == "a.s1p:1:1: found version 1.5; expected 2.0");
    CHECK(touchstone_error("[Number of Ports] 1\n") ==
          "a.s1p:1:1: found [number of ports] before any [Version]; expected [Version] 2.0 first");
    const std::string head = "[Version] 2.0\n# MHz S RI R 50\n";
    CHECK(touchstone_error(head + "[Number of Ports] 2\n") == "a.s1p:3:1: found 2 ports; expected 1");
    CHECK(touchstone_error(head + "[Ports] 1\n") ==
          "a.s1p:3:1: found keyword [ports]; expected one of a one-port file of version 2.0");
    CHECK(touchstone_error(head + "[Number of Ports] 1\n1 0 0\n") ==
          "a.s1p:4:1: found `1`; expected [Network Data] before the data");
    CHECK(touchstone_error(
              head + "[Number of Ports] 1\n[Number of Frequencies] 2\n[Network Data]\n1 0 0\n[End]\n") ==
          "a.s1p:7:1: found 1 points; expected 2, as [Number of Frequencies] says");
    // Cut off: there is neither [End] nor what was announced.
    CHECK(
        touchstone_error(head + "[Number of Ports] 1\n[Number of Frequencies] 2\n[Network Data]\n1 0 0\n") ==
        "a.s1p:6:1: found 1 points; expected 2, as [Number of Frequencies] says");
}

TEST_CASE("a version 2 file that is whole but for its [End] is read with a warning") {
    const std::string text =
        "[Version] 2.0\n# MHz Z RI R 50\n[Number of Ports] 1\n[Number of Frequencies] 1\n[Network Data]\n1 2 "
        "3\n";
    std::vector<Warning> warnings;
    CHECK(parse_touchstone(text, "a.s1p", &warnings).at(0).impedance_ohm == std::complex(2.0, 3.0));
    CHECK(warnings ==
          std::vector{Warning{"curve",
                              "the file has no [End] after its data; there are as many points as [Number of "
                              "Frequencies] says"}});
    warnings.clear();
    parse_touchstone(text + "[End]\n", "a.s1p", &warnings);
    CHECK(warnings.empty());
}

TEST_CASE("neighbouring rows of one frequency are merged into their mean, with a warning") {
    std::vector<Warning> warnings;
    // Two sweeps that join at 2 MHz; [Number of Frequencies] counts the rows.
    const auto s = parse_touchstone(
        "[Version] 2.0\n# MHz Z RI R 50\n[Number of Ports] 1\n[Number of Frequencies] 4\n[Network Data]\n"
        "1 1 1\n2 2 4\n2 4 5\n3 3 3\n[End]\n",
        "a.s1p", &warnings);
    REQUIRE(s.size() == 3);
    CHECK(s[1].frequency_hz == 2e6);
    CHECK(s[1].impedance_ohm == std::complex(3.0, 4.5));
    CHECK(s[2].impedance_ohm == std::complex(3.0, 3.0));
    CHECK(warnings == std::vector{Warning{"curve",
                                          "line 8 has the frequency of the row before it, 2 MHz: the mean of "
                                          "both is used"}});
    warnings.clear();
    const auto csv = parse_impedance_csv(
        "f_Hz,R,X\n# joins\n1,1,1\n1,2,1\n1,6,4\n5,-3,1\n5,4,2\n6,-1,1\n6,-2,1\n", "a.csv", &warnings);
    REQUIRE(csv.size() == 3);
    CHECK_RELATIVE(csv[0].impedance_ohm, std::complex(3.0, 2.0), 1e-15);
    CHECK(csv[1].impedance_ohm == std::complex(0.5, 1.5));
    CHECK(csv[1].passive);        // what is used is
    CHECK_FALSE(csv[2].passive);  // what is used is not
    CHECK(warnings == std::vector{Warning{"curve",
                                          "4 rows have the frequency of the row before them, the first in "
                                          "line 4 (1 Hz): the mean of such rows is used"}});
    CHECK(parse_impedance_csv("f_Hz,R,X\n1,1,1\n1,2,1\n", "a.csv").size() == 1);
}

TEST_CASE("a decimal comma is named as such") {
    CHECK(touchstone_error("# MHz S RI R 50\n1 0.5 -0,3\n") ==
          "a.s1p:2:7: found `-0,3`, with a decimal comma; expected a point, as in `-0.3`");
    CHECK(csv_error("f_Hz;R;X\n1000;1,5;3\n") ==
          "a.csv:2:6: found `1,5`, with a decimal comma; expected a point, as in `1.5`");
    CHECK(csv_error("f_Hz;R;X\n1000;1.234,5;3\n") == "a.csv:2:6: found `1.234,5`; expected a number");
    CHECK(csv_error("f_Hz,R,X\n1000,1,5,3,2\n") ==
          "a.csv:2:1: found 5 fields; expected 3, as in the header (decimal commas? They part the fields: "
          "write points)");
    CHECK(csv_error("f_Hz,R,X\n1000,1,3,note\n") ==
          "a.csv:2:1: found 4 fields; expected 3, as in the header");
}

TEST_CASE("UTF-16 is named as such at once, with a byte order mark or without") {
    const auto wide = [](const std::string& text, bool big_endian) {
        std::string out;
        for (const char c : text) out += big_endian ? std::string{'\0', c} : std::string{c, '\0'};
        return out;
    };
    const std::string csv = "f_Hz,R,X\n1,2,3\n", touchstone = "# Hz Z RI R 1\n1 2 3\n";
    for (const bool big_endian : {false, true})
        for (const std::string& mark : {std::string(), std::string(big_endian ? "\xfe\xff" : "\xff\xfe")}) {
            CHECK(csv_error(mark + wide(csv, big_endian)) ==
                  "a.csv: the text is UTF-16; expected UTF-8 (save the file as that)");
            CHECK(touchstone_error(mark + wide(touchstone, big_endian)) ==
                  "a.s1p: the text is UTF-16; expected UTF-8 (save the file as that)");
        }
    CHECK(csv_error(csv) == "no error");
}

TEST_CASE("CSV headers are understood in their usual spellings") {
    const auto check = [](const std::string& text) {
        CAPTURE(text);
        const auto points = parse_impedance_csv(text, "a.csv");
        REQUIRE(points.size() == 1);
        CHECK_RELATIVE(points[0].frequency_hz, 2e6, 1e-15);
        CHECK_RELATIVE(points[0].impedance_ohm, std::complex(3.0, 4.0), 1e-14);
    };
    check("f_MHz,R_ohm,X_ohm\n2,3,4\n");
    check("# invented\n\nfrequency (Hz);R;X\n2e6;3;4 # note\n");
    check("Frequency [kHz]\tRe(Z) [Ohm]\tIm(Z) [Ohm]\n2000\t3\t4\n");
    check(
        "\xEF\xBB\xBF\"freq_hz\", \"resistance_kohm\", \"reactance_mohm\", \"comment\"\r\n2000000, 0.003, "
        "4000, any\r\n");
    check("frequency (Hz), |Z| (ohm), phase (deg)\n2e6, 5, 53.13010235415598\n");
    check("X_ohm,f_MHz,R_ohm\n4,2,3\n");
    check("Z phase (rad);Z magnitude (\xCE\xA9);f (GHz)\n0.9272952180016122;5;0.002\n");
}

TEST_CASE("a malformed CSV gives line, column and reason") {
    CHECK(csv_error("f,R,X\n1,2,3\n") ==
          "a.csv:1:1: found column `f` without a unit; expected Hz, kHz, MHz or GHz, as in f_MHz");
    CHECK(csv_error("f_Hz,R_Mohm,X\n") ==
          "a.csv:1:6: found unit `Mohm`; expected ohm, mohm, kohm, deg or rad");
    CHECK(csv_error("f_Hz,R\n") ==
          "a.csv:1:1: found header `f_Hz,R`; expected columns for frequency and R, X or |Z|, phase, as in "
          "`f_MHz,R_ohm,X_ohm`");
    CHECK(csv_error("f_Hz,R,X,R_ohm\n") ==
          "a.csv:1:10: found a second column of one kind, `R_ohm`; expected one");
    CHECK(csv_error("f_Hz,R,X\n1,2\n") == "a.csv:2:1: found 2 fields; expected 3, as in the header");
    CHECK(csv_error("f_Hz,R,X\n1,2,\n") == "a.csv:2:5: found ``; expected a number");
    CHECK(csv_error("f_Hz,R,X\n1,2, x\n") == "a.csv:2:6: found `x`; expected a number");
    CHECK(csv_error("f_Hz,R,X\n2,2,3\n1,2,3\n") ==
          "a.csv:3:1: found 1 Hz after 2 Hz; expected rising frequencies");
    CHECK(csv_error("f_Hz,|Z|,phase\n2,-2,3\n") == "a.csv:2:3: found |Z| = -2; expected 0 or more");
    CHECK(csv_error("# nothing\n") ==
          "a.csv: found no point; expected a header and an impedance against frequency");
}

TEST_CASE("a file is read by its ending, and refused when missing, a directory or too large") {
    const auto directory = std::filesystem::temp_directory_path() / "ringquell_impedance_file_test";
    std::filesystem::create_directories(directory);
    const auto write = [&](const char* name, const std::string& text) {
        std::ofstream(directory / name, std::ios::binary) << text;
        return (directory / name).string();
    };
    CHECK(read_impedance_file(write("a.S1P", "# Hz Z RI R 1\n1 2 3\n")).at(0).impedance_ohm ==
          std::complex(2.0, 3.0));
    CHECK(read_impedance_file(write("a.csv", "f_Hz,R,X\n1,2,3\n")).at(0).impedance_ohm ==
          std::complex(2.0, 3.0));
    const std::string missing = (directory / "none.csv").string();
    CHECK_THROWS_WITH_AS(read_impedance_file(missing),
                         (missing + ": cannot be read; expected a file").c_str(), InputError);
    CHECK_THROWS_WITH_AS(read_impedance_file(directory.string()),
                         (directory.string() + ": is a directory; expected a file").c_str(), InputError);
    const std::string large = write("large.csv", std::string(largest_impedance_file_bytes + 1, '#'));
    CHECK_THROWS_WITH_AS(read_impedance_file(large),
                         (large + ": exceeds 4 MiB; expected an impedance curve").c_str(), InputError);
    std::filesystem::remove_all(directory);
}
