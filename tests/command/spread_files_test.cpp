// The verb `spread` from outside: its files, its status, its errors.
#include <doctest/doctest.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <string>

#include "support/case_text.h"
#include "support/files.h"
#include "support/relative.h"
#include "support/run_command.h"

TEST_CASE("spread writes its files whole, ends with a status, and says what a slip was") {
    Folder folder;
    const std::string file = test_files::cases + "ropeway-cured.yaml";
    const std::string arguments =
        "spread " + file + " --set spread=typical --set operation.path.steps=2 --samples 60 --no-resistor";
    const Ran first =
        run(arguments + " --csv rows.csv --checkpoint state.json --json -", folder.path.string());
    const auto json = nlohmann::json::parse(first.out);
    CHECK(first.err.empty());
    CHECK(json["samples"] == 60);
    CHECK(json["pass_share"] == json["passed"].get<double>() / 60);
    CHECK(json["worst"]["case"] == "ropeway-cured-worst.yaml");
    // All 60 keep the worst damping, but 60 show nothing of 99 %.
    CHECK(json["kept"] == 60);
    CHECK(json["verdict"] == "undecided");
    CHECK(json["samples_needed"] == 299);
    CHECK(first.status == 3);
    CHECK(folder.entries() == 3);
    const std::string rows = content(folder / "rows.csv");
    CHECK(std::count(rows.begin(), rows.end(), '\n') == 61);
    const Ran worst = run("check ropeway-cured-worst.yaml --json -", folder.path.string());
    CHECK_RELATIVE(nlohmann::json::parse(worst.out)["worst"]["differential"]["damping_ratio"].get<double>(),
                   json["worst"]["damping_ratio"].get<double>(), 1e-9);
    const Ran without = run("spread " + file, folder.path.string());
    CHECK(without.status == 2);
    CHECK(case_text::contains(without.err, "expected `spread: typical` or tolerances of your own"));
    CHECK(run(arguments + " --resume none.json", folder.path.string()).status == 2);
}
