// `new`: the plain starter, one of a kind, one from a datasheet.
#include <doctest/doctest.h>

#include <nlohmann/json.hpp>

#include "support/case_text.h"
#include "support/run_command.h"
#include "test_paths.h"

using case_text::contains;
using nlohmann::json;

namespace {

const std::string sheet = std::string(RINGQUELL_CASES) + "/parts/datasheet-mosfet.yaml";

}  // namespace

TEST_CASE("new: the plain starter has an acceptable gate resistor, and with it it passes") {
    Folder folder;
    CHECK(run("new '" + folder / "board.yaml" + "'").status == 0);
    const Ran checked = run("check '" + folder / "board.yaml" + "' --json -");
    CHECK(checked.status == 1);
    const json sizing = json::parse(checked.out)["gate_resistance"]["turn_on"];
    CHECK(!sizing["minimum_ohm"].is_null());
    REQUIRE(sizing["passes_with_preferred"] == true);
    const std::string ohm = std::to_string(sizing["preferred_ohm"].get<double>());
    CHECK(
        run("check --quiet '" + folder / "board.yaml" + "' --set gate_path.resistor=" + ohm + "ohm").status ==
        0);
}

TEST_CASE("new --datasheet, --kind, --positions: a complete case, from the file or typical") {
    Folder folder;
    const Ran made = run("new '" + folder / "a.yaml" + "' --positions 3 --datasheet '" + sheet + "'");
    CHECK(made.status == 0);
    CHECK(made.err.empty());
    CHECK(made.out == "Wrote " + folder / "a.yaml" + ". Edit its values, then: ringquell check " +
                          folder / "a.yaml" + "\n");
    const Ran checked = run("check '" + folder / "a.yaml" + "' --json -");
    CHECK((checked.status == 0 || checked.status == 1));
    const json result = json::parse(checked.out);
    CHECK(result["positions"] == 3);
    CHECK(result["assumed"]["count"] == result["assumed"]["values"].size());
    CHECK(result["assumed"]["count"] > 20);
    CHECK(contains(run("check '" + folder / "a.yaml" + "'").out, "Assumed: the verdict rests on "));
    CHECK(contains(run("new - --kind hemt").out, "kind: hemt"));
    CHECK(contains(run("new - --positions 7").out, "positions: 7"));
    // Without any of these the starter is the plain one.
    CHECK(!contains(run("new -").out, "assumed"));
    const Ran page =
        run("report '" + folder / "a.yaml" + "' --samples 0 --no-budget -o '" + folder / "a.html" + "'");
    CHECK(page.status == checked.status);
    CHECK(contains(content(folder / "a.html"), "<p id=\"assumed\">Assumed: the verdict rests on "));
}

TEST_CASE("new says what is doubtful in what it wrote") {
    Folder folder;
    write(folder / "sheet.yaml", "kind: mosfet\non_resistance: 20 ohm\n");
    CHECK(contains(run("new '" + folder / "a.yaml" + "' --datasheet '" + folder / "sheet.yaml" + "'").out,
                   "\nDoubtful: device.channel.knee_voltage: "));
    CHECK(!contains(run("new '" + folder / "b.yaml" + "' --datasheet '" + sheet + "'").out, "Doubtful"));
}

TEST_CASE("new: wrong kinds, numbers and files are errors, and nothing is written") {
    Folder folder;
    const auto error = [&](const std::string& options) {
        const Ran ran = run("new '" + folder / "a.yaml" + "' " + options);
        CHECK(ran.status == 2);
        CHECK(ran.out.empty());
        return ran.err;
    };
    CHECK(contains(error("--kind igbt"),
                   "--kind: found `igbt`, expected `mosfet`, `cascode`, `jfet` or `hemt`: an "
                   "IGBT's collector current is carried by charge stored in its base"));
    CHECK(contains(error("--kind mosfett"), "did you mean `mosfet`?"));
    CHECK(contains(error("--kind jfet --datasheet '" + sheet + "'"), "states `kind: mosfet`"));
    CHECK(contains(error("--positions 0"), "--positions: found 0, expected a whole number from 1 to 4096"));
    CHECK(contains(error("--datasheet none.yaml"), "none.yaml: the file does not exist"));
    CHECK(folder.entries() == 0);
    // The datasheet is not written over.
    write(folder / "sheet.yaml", "kind: mosfet\n");
    CHECK(run("new --force '" + folder / "sheet.yaml" + "' --datasheet '" + folder / "sheet.yaml" + "'")
              .status == 2);
    CHECK(content(folder / "sheet.yaml") == "kind: mosfet\n");
}
