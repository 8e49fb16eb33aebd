// What a review takes away: the page, a checklist, JUnit XML, a plot in the terminal, from outside.
#include <doctest/doctest.h>

#include <cstdlib>
#include <string>

#include "support/files.h"
#include "support/run_command.h"

using namespace test_files;

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

TEST_CASE("compare -o: the page is written beside the text, and over nothing that was read") {
    const Folder folder;
    const std::string a = cases + "ropeway-first.yaml", b = cases + "ropeway-cured.yaml",
                      page = folder / "x.html";
    const std::string quick = " --set operation.path.steps=2 ";
    const auto made = run("compare " + a + " " + b + quick + "-o " + page + " --json " + (folder / "x.json"));
    CHECK(made.status == 0);
    CHECK(made.err.empty());
    CHECK(made.out.find("A: " + a) == 0);
    CHECK(made.out.find("The page is " + page + " (") != std::string::npos);
    CHECK(content(page).find("<!DOCTYPE html>") == 0);
    CHECK(content(folder / "x.json").find("\"verb\": \"compare\"") != std::string::npos);
    CHECK(folder.entries() == 2);
    const auto streamed = run("compare " + a + " " + b + quick + "-o -");
    CHECK(streamed.status == 0);
    CHECK(streamed.out.find("<!DOCTYPE html>") == 0);
    CHECK(streamed.out.find("A: ") == std::string::npos);
    CHECK(run("compare " + a + " " + b + quick + "--quiet -o " + page).out.find("The page is") ==
          std::string::npos);
    const auto over = run("compare " + a + " " + b + " -o " + b);
    CHECK(over.status == 2);
    CHECK(over.err.find("--output: ") != std::string::npos);
    CHECK(content(b).find("ringquell: 1") != std::string::npos);
    const auto twice = run("compare " + a + " " + b + " -o " + page + " --json " + page);
    CHECK(twice.status == 2);
    CHECK(run("compare " + a + " " + b + " -o ''").status == 2);
}

TEST_CASE("check: a measured ring stands beside the nearest mode of its point, one line each") {
    const std::string ring =
        "check " + cases + "ropeway-first.yaml --no-size --set operation.path.steps=4 --set ";
    const auto told = run(ring + "'measured=[{frequency: 130 MHz, decay: 40 ns, at: turn_off current 2}]'");
    CHECK(told.status == 1);
    CHECK(told.out.find(
              "Measured at \"turn_off current 2\": 130 MHz, damping ratio 0.0306, falls to 1/e in 40 ns (5.2 "
              "cycles); nearest there: differential mode, ") != std::string::npos);
    const auto lost = run(ring + "'measured=[{frequency: 130 MHz, decay: 40 ns, at: turn_off currant 2}]'");
    CHECK(lost.status == 2);
    CHECK(lost.err.find(
              "measured[1].at: `turn_off currant 2` is no point of this case's path; did you mean `turn_off "
              "current 2`?") != std::string::npos);
}
