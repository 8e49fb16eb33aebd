// `check` of several cases: files, folders, variants of one; as a table, JSON, Markdown and JUnit XML.
#include <nlohmann/json.hpp>

#include "support/case_text.h"
#include "support/run_command.h"

namespace {

using Json = nlohmann::json;
using case_text::contains;

std::string small_case(const std::string& title, const std::string& resistor) {
    return "title: " + title + "\n" +
           case_text::replaced(case_text::base, "resistor: 4.7 ohm", "resistor: " + resistor);
}

/// A failing case, a passing one, a broken one, and a part that is no case.
struct Board : Folder {
    Board() {
        write(path / "a-fails.yaml", small_case("low", "0 ohm"));
        write(path / "b-passes.yaml", small_case("high", "30 ohm"));
        write(path / "c-broken.yaml", small_case("broken", "30 H"));
        write(path / "bead.yaml", "dc_resistance: 10 mohm\nresistance: 100 ohm\ninductance: 100 nH\n");
    }
};

}  // namespace

TEST_CASE(
    "a folder's cases are judged one by one; a broken one is a row with its message and the worst status") {
    const Board board;
    const Ran all = run("check .", board.path.string());
    CHECK(all.status == 2);
    CHECK(all.err.empty());
    CHECK(contains(all.out, "3 cases, 1 passes, 1 fails, 1 not judged"));
    CHECK(contains(all.out, "WRONG INPUT: ./c-broken.yaml:"));
    CHECK(contains(all.out, "found `30 H`"));
    CHECK(!contains(all.out, "bead.yaml"));
    CHECK(run("check b-passes.yaml a-fails.yaml", board.path.string()).status == 1);
    const Ran quiet = run("check b-passes.yaml a-fails.yaml --quiet", board.path.string());
    CHECK(quiet.out == "2 cases, 1 passes, 1 fails\nPASS: b-passes.yaml\nFAIL: a-fails.yaml\n");
}

TEST_CASE("a row says what a check of that case alone says, whatever the threads") {
    const Board board;
    const auto json = [&](const std::string& arguments) {
        return Json::parse(run("check " + arguments + " --json -", board.path.string()).out);
    };
    const Json many = json("a-fails.yaml b-passes.yaml");
    REQUIRE(many["cases"].size() == 2);
    for (const Json& row : many["cases"]) {
        const Json one = json(row["file"].get<std::string>());
        CHECK(row["title"] == one["title"]);
        CHECK(row["verdict"] == one["verdict"]);
        CHECK(row["worst"]["damping_ratio"] == one["worst"]["differential"]["damping_ratio"]);
        CHECK(row["worst"]["point"] == one["worst"]["differential"]["point"]);
        for (const char* key : {"minimum_ohm", "preferred_ohm"})
            CHECK(row["gate_resistance"]["turn_on"][key] == one["gate_resistance"]["turn_on"][key]);
    }
    const std::string sweep =
        "check a-fails.yaml --each gate_path.resistor=1ohm,5ohm,10ohm --each kelvin_path.inductance=3nH,9nH";
    const Ran one = run(sweep + " --threads 1", board.path.string());
    CHECK(one.out == run(sweep + " --threads 2", board.path.string()).out);
    CHECK(contains(one.out, "6 cases"));
    CHECK(contains(one.out, "gate_path.resistor=10ohm, kelvin_path.inductance=3nH"));
}

TEST_CASE("a value with commas of its own is one value") {
    const Board board;
    const Ran ran =
        run("check a-fails.yaml --each 'snubber={capacitance: 220 pF, resistance: 5 ohm},"
            "{capacitance: 1 nF, resistance: 5 ohm}' --no-size --json -",
            board.path.string());
    const Json cases = Json::parse(ran.out)["cases"];
    REQUIRE(cases.size() == 2);
    CHECK(cases[1]["set"] == Json{"snubber={capacitance: 1 nF, resistance: 5 ohm}"});
    CHECK(cases[0]["gate_resistance"].empty());
}

TEST_CASE("Markdown and JUnit XML are one document each, with the files' names") {
    const Board board;
    const Ran md = run("check . --format md", board.path.string());
    CHECK(md.status == 2);
    CHECK(md.out.find("# Parallel oscillation: 3 cases, 1 passes, 1 fails, 1 not judged\n") == 0);
    CHECK(contains(md.out, "\n# ./b-passes.yaml\n\n## Parallel oscillation: passes\n"));
    CHECK(contains(md.out, "\n# ./c-broken.yaml\n\nWRONG INPUT: "));
    const Ran xml = run("check . --format junit", board.path.string());
    CHECK(contains(xml.out, "<testcase classname=\"a-fails.yaml\""));
    CHECK(contains(xml.out, "<testsuite name=\"./c-broken.yaml\" tests=\"1\" failures=\"0\" errors=\"1\""));
    size_t declarations = 0;
    for (size_t at = 0; (at = xml.out.find("<?xml", at)) != std::string::npos; ++at) ++declarations;
    CHECK(declarations == 1);
}

TEST_CASE("what is no table is refused, with what was found") {
    const Board board;
    fs::create_directory(board.path / "empty");
    fs::create_symlink("a-fails.yaml", board.path / "link.yaml");
    const auto refused = [&](const std::string& arguments) {
        const Ran ran = run("check " + arguments, board.path.string());
        CHECK(ran.status == 2);
        CHECK(ran.out.empty());
        return ran.err;
    };
    CHECK(refused("empty") ==
          "ringquell: empty: CASE: the folder holds no case; expected YAML files with the key `ringquell`\n");
    CHECK(refused("a-fails.yaml a-fails.yaml") ==
          "ringquell: a-fails.yaml: CASE: is named twice; expected each case once\n");
    CHECK(refused("a-fails.yaml link.yaml") ==
          "ringquell: link.yaml: CASE: is the same file as a-fails.yaml; expected each case once\n");
    CHECK(refused("a-fails.yaml --each gate_path.resistor=") ==
          "ringquell: --each: found an empty value in `gate_path.resistor=`; expected one between every two "
          "commas\n");
    CHECK(refused("a-fails.yaml --each gate_path.resistor=1ohm,1ohm") ==
          "ringquell: --each: found `1ohm` twice for `gate_path.resistor`; expected each value once\n");
    CHECK(refused("a-fails.yaml --each gate_path.resistor") ==
          "ringquell: --each: found `gate_path.resistor`; expected key=value,value such as "
          "`gate_path.resistor=4.7ohm,10ohm`\n");
    CHECK(refused("a-fails.yaml b-passes.yaml --each gate_path.resistor=1ohm") ==
          "ringquell: --each: found 2 cases; expected one, of which variants are made\n");
    CHECK(refused("a-fails.yaml b-passes.yaml --points") ==
          "ringquell: --points: goes with one case; found several, or a folder\n");
    CHECK(refused("a-fails.yaml b-passes.yaml --json b-passes.yaml").find("b-passes.yaml") !=
          std::string::npos);
    // A thousand million variants.
    std::string thousand = "1ohm";
    for (int k = 2; k <= 1000; ++k) thousand += "," + std::to_string(k) + "ohm";
    std::string each;
    for (const char* key : {"gate_path.resistor", "kelvin_path.resistor", "device.gate_resistance"})
        each += std::string(" --each ") + key + "=" + thousand;
    CHECK(refused("a-fails.yaml" + each) ==
          "ringquell: --each: found 1000000000 variants (1000 x 1000 x 1000); expected at most 10000\n");
}
