// `cure` from outside: what it writes, prints and refuses.
#include <nlohmann/json.hpp>

#include "support/case_text.h"
#include "support/run_command.h"

namespace {

using Json = nlohmann::json;
using case_text::contains;

struct Board : Folder {
    Board() {
        write(path / "fails.yaml",
              case_text::replaced(case_text::base, "resistor: 4.7 ohm", "resistor: 0 ohm"));
        write(path / "passes.yaml",
              case_text::replaced(case_text::base, "resistor: 4.7 ohm", "resistor: 30 ohm"));
        write(path / "hopeless.yaml",
              case_text::replaced(case_text::base, "resistor: 4.7 ohm", "resistor: 0 ohm") +
                  "cure: {fixed: [\"*\"]}\n");
    }
    Ran cure(const std::string& arguments) const { return run("cure " + arguments, path.string()); }
};

}  // namespace

TEST_CASE("the cured case is written, passes, and says what was changed") {
    const Board board;
    const Ran ran = board.cure("fails.yaml -o cured.yaml --json result.json");
    CHECK(ran.status == 0);
    CHECK(ran.err.empty());
    CHECK(contains(ran.out, "\nWritten: cured.yaml\n"));
    CHECK(run("check cured.yaml --quiet", board.path.string()).status == 0);
    const Json json = Json::parse(content(board.path / "result.json"));
    CHECK(json["verb"] == "cure");
    CHECK(json["verdict"] == "fail");
    CHECK(json["cured"] == "cured.yaml");
    REQUIRE(!json["options"].empty());
    double price = 0;
    for (const Json& o : json["options"]) {
        CHECK(o["passes"] == true);
        CHECK(o["price"] >= price);
        price = o["price"];
    }
    const std::string first = content(board.path / "cured.yaml");
    CHECK(first.starts_with("# fails.yaml, cured: " + json["options"][0]["changes"].begin().key()));
}

TEST_CASE("another row is written on request") {
    const Board board;
    const Json json = Json::parse(board.cure("fails.yaml --json -").out);
    REQUIRE(json["options"].size() > 1);
    const Ran ran = board.cure("fails.yaml -o second.yaml --option 2 --quiet");
    CHECK(ran.status == 0);
    CHECK(contains(content(board.path / "second.yaml"), json["options"][1]["changes"].begin().key()));
    const Ran far = board.cure("fails.yaml -o far.yaml --option 99");
    CHECK(far.status == 2);
    CHECK(contains(far.err, "--option: is 99, but the table has "));
    CHECK(!fs::exists(board.path / "far.yaml"));
    CHECK(board.cure("fails.yaml --option 2").err ==
          "ringquell: --option: goes with `-o FILE`, which the row is written to\n");
    CHECK(board.cure("fails.yaml --option 0 -o x.yaml").err ==
          "ringquell: --option: expected the number of a row of the table, from 1\n");
}

TEST_CASE("a case that passes is status 0, one without a cure status 1 and no file") {
    const Board board;
    const Ran passing = board.cure("passes.yaml");
    CHECK(passing.status == 0);
    CHECK(passing.out == "PASS: case; it passes as it stands, nothing to cure\n");
    const Ran hopeless = board.cure("hopeless.yaml -o none.yaml");
    CHECK(hopeless.status == 1);
    CHECK(contains(hopeless.out, "FAIL: case; no cure was found\n"));
    CHECK(!fs::exists(board.path / "none.yaml"));
}

TEST_CASE("the case itself is never overwritten by its cure") {
    const Board board;
    const std::string before = content(board.path / "fails.yaml");
    CHECK(board.cure("fails.yaml -o fails.yaml").status == 2);
    CHECK(content(board.path / "fails.yaml") == before);
}
