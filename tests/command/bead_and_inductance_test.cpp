// The verbs of parts, `bead` and `inductance`, from outside.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <nlohmann/json.hpp>
#include <string>

#include "support/files.h"
#include "support/relative.h"
#include "support/run_command.h"

using namespace test_files;
using nlohmann::json;

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
