// The page: that it holds its case and its numbers, and that it can be read back. What a browser makes of it
// is in page_test.mjs.
#include "ringquell/page.h"

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>
#include <numbers>
#include <sstream>

#include "page/drawing.h"
#include "report/parts.h"
#include "ringquell/read_case.h"
#include "ringquell/report.h"
#include "ringquell/write_case.h"
#include "support/case_text.h"
#include "support/relative.h"
#include "support/run_command.h"
#include "test_paths.h"

using namespace ringquell;
using namespace ringquell::internal;
using nlohmann::json;

namespace {

const std::string cases = std::string(RINGQUELL_CASES) + "/";

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

TEST_CASE("drawing: every part of the position is there, and what holds the energy stands out") {
    const Case input = read_case(cases + "ropeway-first.yaml");
    const OperatingPoint point = operating_path(input).points.front();
    const std::string plain = position_drawing(input, point, 1, {});
    CHECK(plain.find("class=\"hot\"") == std::string::npos);
    for (const char* value :
         {"9 nH", "6 nH", "1.2 ohm", "7 nH", "470 pF", "6.8 ohm", "210 pF", "3.3 nF", "16 pF"}) {
        CAPTURE(value);
        CHECK(plain.find(value) != std::string::npos);
    }
    const std::string hot = position_drawing(input, point, 1, {{"snubber.capacitance", 0.25}});
    CHECK(hot.find("class=\"hot\"") != std::string::npos);
    CHECK(hot.find("25 %") != std::string::npos);
    CHECK(hot.find("snubber.capacitance (25 %)") != std::string::npos);  // in words, for who cannot see it
    const Case cascode = read_case(cases + "ice-rink-cascode.yaml");
    const std::string tall = position_drawing(cascode, operating_path(cascode).points.front(), 1, {});
    for (const char* value : {"JFET", "400 pH", "600 pH", "1.3 nF", "650 pF"})
        CHECK(tall.find(value) != std::string::npos);
}

TEST_CASE("report: the command writes a page, reads it back, and says what is missing") {
    const Folder folder;
    const std::string page = folder / "page.html", file = cases + "ice-rink-cascode.yaml";
    const auto made = run("report " + file + " -o " + page);
    CHECK(made.status == 1);
    CHECK(made.out.find("FAIL: ice rink compressor drive") == 0);
    CHECK(made.out.find("The page is " + page + " (") != std::string::npos);
    auto back = run("report " + file + " --read " + page);
    CHECK(back.status == 0);
    CHECK(back.out.find("has not changed since") != std::string::npos);
    back = run("report " + file + " --set gate_path.resistor=5ohm --read " + page);
    CHECK(back.status == 1);
    CHECK(back.out.find("HAS CHANGED since") != std::string::npos);
    CHECK(back.out.find("gate_path.resistor: was 6.8 ohm, 1 ohm, is 5 ohm") != std::string::npos);
    CHECK(run("report --read " + page).status == 0);
    CHECK(run("report " + file).err ==
          "ringquell: --output: missing; expected the page to write, such as `-o review.html`\n");
    CHECK(run("report").err == "ringquell: CASE: missing; expected the case file, or --read FILE.html\n");
    const auto itself = run("report " + file + " -o " + file);
    CHECK(itself.status == 2);
    CHECK(itself.err.find("is the case itself; expected another file") != std::string::npos);
}

TEST_CASE("check --format: a Markdown checklist and JUnit XML carry the verdict's lines") {
    const std::string file = cases + "ropeway-first.yaml";
    const auto md = run("check " + file + " --format md");
    CHECK(md.status == 1);
    CHECK(md.out.find("## Parallel oscillation: fails\n") == 0);
    CHECK(md.out.find(
              "- [ ] differential modes: damping ratio at least 0.1 from 1 MHz to 300 MHz: **misses.**") !=
          std::string::npos);
    CHECK(md.out.find("- [x] common modes") != std::string::npos);
    CHECK(md.out.find("- [ ] nothing grows at any frequency: **misses.**") != std::string::npos);
    CHECK(md.out.find("measured at the worst point") != std::string::npos);
    CHECK(md.out.find("follow local codes") != std::string::npos);
    const auto xml = run("check " + file + " --format junit");
    CHECK(xml.status == 1);
    CHECK(xml.out.find("<testsuites tests=\"3\" failures=\"2\" errors=\"0\">") != std::string::npos);
    CHECK(xml.out.find("<testcase classname=\"ropeway-first.yaml\" name=\"nothing grows at any "
                       "frequency\">\n      <failure") != std::string::npos);
    const auto cured = run("check " + cases + "ropeway-cured.yaml --format junit");
    CHECK(cured.status == 0);
    CHECK(cured.out.find("failures=\"0\" errors=\"0\"") != std::string::npos);
    CHECK(cured.out.find("<failure") == std::string::npos);
    // Titles are text here too.
    const auto odd =
        run("check " + cases + "ropeway-cured.yaml --set 'title=\"a <b> & *c* | d\"' --format junit");
    CHECK(odd.out.find("<testsuite name=\"a &lt;b&gt; &amp; *c* | d\"") != std::string::npos);
    const auto odd_md =
        run("check " + cases + "ropeway-cured.yaml --set 'title=\"a <b> & *c* | d\"' --format md");
    CHECK(odd_md.out.find("a \\<b\\> & \\*c\\* \\| d: 4 positions") != std::string::npos);
}

TEST_CASE("check: a plot in a terminal that shows UTF-8, plain text elsewhere") {
    const std::string file = cases + "ropeway-first.yaml", heading = "Damping ratio along the path";
    CHECK(run("check " + file).out.find(heading) == std::string::npos);
    const std::string plotted = run("check " + file + " --plot always").out;
    CHECK(plotted.find("FAIL: ") == 0);
    CHECK(plotted.find("nothing may grow at any frequency\n\n" + heading) != std::string::npos);
    CHECK(plotted.find("turn_off voltage\n\nWorst differential mode") != std::string::npos);
    CHECK(run("check " + file + " --plot always --quiet").out.find(heading) == std::string::npos);
    CHECK(run("check " + file + " --plot always --format md").out.find(heading) == std::string::npos);
    // script(1) gives the command a terminal.
    const auto in_terminal = [&](const std::string& environment, const std::string& more = "") {
        const Folder folder;
        const std::string out = folder / "terminal.txt";
        const std::string command = "env -u LC_ALL -u LC_CTYPE TERM=xterm " + environment +
                                    " script -qec '" RINGQUELL_COMMAND " check " + file + more +
                                    "' /dev/null > " + out + " < /dev/null";
        CHECK(std::system(command.c_str()) != -1);
        const std::string text = content(out);
        CHECK(text.find("FAIL: ropeway") != std::string::npos);
        return text.find(heading) != std::string::npos;
    };
    CHECK(in_terminal("LANG=C.UTF-8"));
    CHECK(in_terminal("LANG=de_DE.utf8"));
    CHECK(!in_terminal("LANG=C"));
    CHECK(!in_terminal("LC_ALL=C LANG=C.UTF-8"));
    CHECK(!in_terminal("LANG=C.UTF-8 TERM=dumb"));
    CHECK(!in_terminal("LANG=C.UTF-8", " --plot never"));
}

TEST_CASE("plot: a mode on the wrong side of a line is drawn on the wrong side, however close") {
    CheckResult result;
    result.require.differential_damping = 0.1;
    for (const double damping : {0.0999, 0.1001, -0.0001, 0.3}) {
        PointResult point;
        point.point.name = point.point.stage = "p";
        const double omega = 2 * std::numbers::pi * 100e6;
        point.modes.modes.push_back(
            {{-damping * omega, omega * std::sqrt(1 - damping * damping)}, ModeKind::differential, 0, 1});
        result.points.push_back(point);
    }
    std::istringstream lines(damping_plot(result, 80));
    std::string line, asked, zero;
    for (int row = 0; std::getline(lines, line); ++row) {
        if (row > 0 && line.starts_with("    0.1")) asked = line;
        if (row > 0 && line.starts_with("      0")) zero = line;
    }
    const auto marks = [](const std::string& text) {
        int count = 0;
        for (size_t at = 0; (at = text.find("●", at)) != std::string::npos; ++at) ++count;
        return count;
    };
    CHECK(marks(asked) == 1);
    CHECK(marks(zero) == 0);
    CHECK(damping_plot(result, 20).empty());
    CHECK(damping_plot({}, 80).empty());
}
