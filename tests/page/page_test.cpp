// The page holds its case and its numbers, and can be read back. What a browser makes of it is in
// page_test.mjs.
#include "ringquell/page.h"

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "report/parts.h"
#include "ringquell/write_case.h"
#include "support/files.h"
#include "support/relative.h"
#include "support/run_command.h"
#include "test_paths.h"

using namespace ringquell;
using namespace ringquell::internal;
using namespace test_files;
using nlohmann::json;

namespace {

json data_of(const std::string& html) {
    const std::string start = "<script type=\"application/json\" id=\"ringquell-data\">";
    const size_t begin = html.find(start);
    REQUIRE(begin != std::string::npos);
    return json::parse(
        html.substr(begin + start.size(), html.find("</script>", begin) - begin - start.size()));
}

}  // namespace

TEST_CASE("FNV-1a of the draft's texts") {
    // draft-eastlake-fnv, test vectors (from memory).
    CHECK(text_hash("") == "cbf29ce484222325");
    CHECK(text_hash("a") == "af63dc4c8601ec8c");
    CHECK(text_hash("foobar") == "85944171f73967e8");
}

TEST_CASE("page: it holds the numbers of the check and the case, and asks for nothing from outside") {
    const Case input = read_case(cases + "ropeway-first.yaml");
    PageOptions options;
    options.made = "2026-01-02 03:04 UTC";
    const Page page = make_page(input, options);
    CHECK(page.result.verdict == Verdict::fail);
    CHECK(page.html.size() < 600'000);
    const json data = data_of(page.html);
    CHECK(data["case"]["text"] == write_case(input));
    CHECK(data["case"]["hash"] == text_hash(write_case(input)));
    CHECK(data["made"] == "2026-01-02 03:04 UTC");
    CHECK(data["check"]["points"].size() == 98);
    CHECK_RELATIVE(data["check"]["worst"]["differential"]["damping_ratio"].get<double>(),
                   page.result.worst_differential->mode.damping_ratio(), 1e-6);
    for (const char* key : {"sweeps", "planes", "shapes", "ring", "beads", "explain", "choose", "budget"})
        CHECK(data.contains(key));
    CHECK(!data.contains("spread"));
    // Nothing is loaded: no address in an attribute, and a policy that forbids it.
    for (const char* loads : {" src=", "href=\"http", "url(", "@import"}) {
        CAPTURE(loads);
        const size_t library = page.html.find("Chart.js");
        REQUIRE(library != std::string::npos);
        CHECK(page.html.substr(0, library).find(loads) == std::string::npos);
    }
    CHECK(page.html.find("default-src 'none'") != std::string::npos);
    CHECK(page.html.find("A DC link kills.") != std::string::npos);
    CHECK(page.html.find("Signature") != std::string::npos);
}

TEST_CASE("the README's cautions are the page's") {
    // In other words here and there, but nothing that one says of danger is missing in the other.
    const auto plain = [](std::string text) {
        for (char& c : text)
            if (c == '\n') c = ' ';
        for (const char* mark : {"<strong>", "</strong>", "**"})
            for (size_t at; (at = text.find(mark)) != std::string::npos;)
                text.erase(at, std::string(mark).size());
        return text;
    };
    const std::string page = plain(cautions_of_page), readme = plain(content(RINGQUELL_README));
    for (const char* words :
         {"A DC link kills. It stays charged after the supply is off",
          "verify that it is discharged, and only then "
          "touch the board. Devices that fail at these energies burst and throw fragments and plasma: shield "
          "the "
          "board, wear eye protection, and raise the voltage in steps behind a current limit. Work as your "
          "local "
          "codes and your licence to work demand; nothing",
          "overrides them", "This is a small-signal screening of lumped elements",
          "from noise at a point that is held still", "forgotten inductance or coupling is a forgotten mode",
          "is permission to measure, no more"}) {
        CAPTURE(words);
        CHECK(page.find(words) != std::string::npos);
        CHECK(readme.find(words) != std::string::npos);
    }
}

TEST_CASE("page: names are text, whatever they hold") {
    const std::string title = "</script><script>alert(1)</script> & \"quotes\" <!-- '";
    Case input = read_case(cases + "ropeway-first.yaml");
    input.operation.path->steps = 2;
    input.title = title;
    const Page page = make_page(input);
    CHECK(page.html.find("<script>alert") == std::string::npos);
    CHECK(page.html.find("<!--") == std::string::npos);
    CHECK(page.html.find("&lt;script&gt;alert(1)&lt;/script&gt; &amp; &quot;quotes&quot; &lt;!-- &#39;") !=
          std::string::npos);
    CHECK(data_of(page.html)["check"]["title"] == title);
    CHECK(read_page(page.html, "x.html").title == title);
}

TEST_CASE("page: 64 positions, no two alike, stay below 2 MB") {
    Case input = read_case(cases + "ropeway-first.yaml");
    input.operation.path->steps = 2;
    while (input.n() < 64) input.positions.push_back(input.positions.front());
    double more = 1;
    for (Position& p : input.positions) p.device.gate_resistance.value_ohm *= more += 0.001;
    *input.operation.load_current_a *= 16;
    PageOptions options;
    options.check.size_gate_resistor = options.check.follow_modes = false;
    const size_t few = make_page(input, options).html.size();
    input.operation.path->steps = 4;
    const size_t more_points = make_page(input, options).html.size();
    // 8 and 16 points of both edges; a default walk has 96.
    CHECK(few + static_cast<size_t>(88.0 / 8 * static_cast<double>(more_points - few)) < 2'000'000);
}

TEST_CASE("page: read back, it says what has changed") {
    const std::string file = cases + "ropeway-cured.yaml";
    Case input = read_case(file);
    input.operation.path->steps = 2;
    PageOptions options;
    options.budget = false;
    const Page page = make_page(input, options);
    const PageRecord record = read_page(page.html, "page.html");
    CHECK(record.file == "ropeway-cured.yaml");
    CHECK(record.verdict == "pass");
    CHECK(record.case_text == write_case(input));
    CHECK(changed_since(record, input).empty());
    Case changed = input;
    changed.positions[1].gate_path.inductance_h = 15e-9;
    changed.power_loop.dc_link->esl_h = 7e-9;
    CHECK(changed_since(record, changed) ==
          std::vector<std::string>{"gate_path.inductance: was 9 nH, is 9 nH, 15 nH",
                                   "power_loop.dc_link.esl: was 6 nH, is 7 nH"});
    changed = input;
    changed.title = "another";
    const std::vector<std::string> lines = changed_since(record, changed);
    REQUIRE(lines.size() == 2);
    CHECK(lines[0] == "- title: \"ropeway brake inverter, with a bead in each gate path\"");
    CHECK(lines[1] == "+ title: \"another\"");
    changed = input;
    changed.positions.pop_back();
    CHECK(!changed_since(record, changed).empty());
}

TEST_CASE("page: what is no page, or is damaged, is refused") {
    const auto message = [](const std::string& html) -> std::string {
        try {
            read_page(html, "x.html");
        } catch (const InputError& error) {
            return error.what();
        }
        return "read";
    };
    const std::string expected = "; expected a page that `ringquell report` has written";
    CHECK(message("<html></html>") == "x.html: found no data of this command" + expected);
    Case input = read_case(cases + "ice-rink-cascode.yaml");
    const std::string html = make_page(input).html;
    CHECK(message(html) == "read");
    const size_t begin = html.find("ringquell-data");
    CHECK(message(html.substr(0, begin + 500)) == "x.html: the page ends within its data" + expected);
    std::string damaged = html;
    damaged.replace(damaged.find("\"page\":1"), 8, "\"page\":}");
    CHECK(message(damaged) == "x.html: the data of the page are damaged" + expected);
    damaged = html;
    const size_t value = damaged.find("1.3e-09 F");
    REQUIRE(value != std::string::npos);
    damaged[value] = '9';
    CHECK(message(damaged) == "x.html: the case in the page is not the one its hash is of" + expected);
}
