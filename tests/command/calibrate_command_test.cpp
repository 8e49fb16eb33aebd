// The verb `calibrate` from outside: the short form, what it writes, and what it refuses.
#include <doctest/doctest.h>

#include <nlohmann/json.hpp>

#include "ringquell/read_case.h"
#include "support/case_text.h"
#include "support/run_command.h"

using case_text::contains;

namespace {

const std::string board = "'" RINGQUELL_CASES "/ropeway-first.yaml'";
const std::string at = " --at 'turn_on current 4' --between 'gate pin[1]:gate pin[2]' --no-next";

}  // namespace

TEST_CASE("a decay in time, in cycles and as a damping ratio is one") {
    // 112 MHz, 40 ns: 4.48 cycles, ζ = 1/√(1 + (2π·4.48)²)
    const Ran time = run("calibrate " + board + " --ring 112MHz:40ns --quiet" + at);
    CHECK(time.status == 0);
    CHECK(time.out ==
          "EXPLAINED: ropeway brake inverter, as first laid out; the record fits within the tolerances\n");
    std::vector<double> damping;
    for (const char* ring : {"112MHz:40ns", "112MHz:4.48cycles", "112MHz:0.0355033"}) {
        const Ran ran = run("calibrate " + board + " --ring " + ring + at + " --json -");
        REQUIRE(ran.status == 0);
        const auto json = nlohmann::json::parse(ran.out);
        damping.push_back(json["records"][0]["damping_ratio"]);
        CHECK(json["single_changes"].size() > 5);
        CHECK(json["unknowns"].size() == 74);
    }
    CHECK(std::abs(damping[0] - damping[1]) < 1e-12);
    CHECK(std::abs(damping[0] - damping[2]) < 1e-7);
}

TEST_CASE("the demonstration bench is explained, and its calibrated case is a case") {
    Folder folder;
    const Ran ran =
        run("calibrate '" RINGQUELL_CASES "/bench/ropeway-first.yaml' --no-next --samples 20 -o '" +
            folder / "calibrated.yaml" + "' --json '" + folder / "c.json" + "'");
    CHECK(ran.status == 0);
    CHECK(ran.out.starts_with(
        "EXPLAINED: ropeway brake inverter, as first laid out; all records fit within the tolerances\n"));
    CHECK(contains(ran.out, "frequency and damping stand still from "));
    CHECK(contains(ran.out, "Of 20 samples "));
    const ringquell::Case again = ringquell::read_case(folder / "calibrated.yaml", {});
    CHECK(again.positions.size() == 4);
    CHECK(!again.spread.empty());
    const auto json = nlohmann::json::parse(content(folder / "c.json"));
    CHECK(json["records"].size() == 3);
    CHECK(json["explained"] == true);
    CHECK(json["misfit"]["after"] < json["misfit"]["before"]);
}

TEST_CASE("a ring that nothing explains ends with status 1") {
    Folder folder;
    const Ran ran =
        run("calibrate " + board + " --ring 3.1GHz:0.02" + at + " -o '" + folder / "c.yaml" + "'");
    CHECK(ran.status == 1);
    CHECK(contains(ran.out, "Nothing in this case rings like that."));
    CHECK(contains(ran.out, "Nothing is settled by records that the case cannot explain"));
    CHECK(!contains(ran.out, "Written"));
    CHECK(folder.entries() == 0);
}

TEST_CASE("what calibrate cannot read it says") {
    const auto error = [](const std::string& arguments) {
        const Ran ran = run("calibrate " + board + " " + arguments);
        CHECK(ran.status == 2);
        CHECK(ran.out.empty());
        return ran.err;
    };
    const std::string expected =
        "expected frequency and decay as `87MHz:40ns`, `87MHz:3.5cycles` (to 1/e of the amplitude) or "
        "`87MHz:0.046` "
        "(damping ratio)\n";
    CHECK(error("--ring 87MHz --at 'turn_on current 4'") == "ringquell: --ring: found `87MHz`; " + expected);
    CHECK(error("--ring 87MHz:40ns:1 --at 'turn_on current 4'") ==
          "ringquell: --ring: found `87MHz:40ns:1`; " + expected);
    CHECK(error("--ring 87:40ns --at 'turn_on current 4'") ==
          "ringquell: --ring: found `87`, expected a frequency such as `30 MHz` (a unit is missing)\n");
    CHECK(error("--ring 87MHz:1.2 --at 'turn_on current 4'") ==
          "ringquell: --ring: found `1.2`; expected a damping ratio between -1 and 1\n");
    CHECK(error("--ring 87MHz:-4ns --at 'turn_on current 4'") ==
          "ringquell: --ring: found `-4ns`; expected a decay above 0\n");
    CHECK(error("--ring 87MHz:40ns") ==
          "ringquell: --at: missing for 1 `--ring`; expected the name of a point for each, such as `turn_on "
          "current 9`, or "
          "`unpowered`\n");
    CHECK(error("--at 'turn_on current 4'") == "ringquell: --at: goes with `--ring`\n");
    CHECK(contains(error("--ring 87MHz:40ns --at 'turn_on curent 4'"), "did you mean `turn_on current 4`?"));
    CHECK(contains(error("--ring 87MHz:40ns --at 'turn_on current 4' --between 'gate pin[1]:gate pn[2]'"),
                   "did you mean `gate pin[2]`?"));
    CHECK(error("--ring 87MHz:40ns --at 'turn_on current 4' --between 'gate pin[1]'") ==
          "ringquell: --between: found `gate pin[1]`; expected two nodes, such as `gate pin[1]:gate pin[2]` "
          "(`check "
          "--network` names them)\n");
    CHECK(error("--ring 87MHz:40ns --at 'turn_on current 4' --samples 0") ==
          "ringquell: --samples: is 0; expected 1 or more\n");
}
