// The page of two cases side by side. What a browser makes of it is in compare_test.mjs.
#include <doctest/doctest.h>

#include <nlohmann/json.hpp>
#include <string>

#include "ringquell/page.h"
#include "ringquell/write_case.h"
#include "support/files.h"

using namespace ringquell;
using test_files::demonstration;

namespace {

std::string page_of(const Case& a, const Case& b) {
    return make_compare_page(a, b, compare(a, b), "2026-01-02 03:04 UTC");
}

}  // namespace

TEST_CASE("compare page: it holds both cases, and asks for nothing from outside") {
    const Case a = demonstration("ropeway-first", {"operation.path.steps=2"}),
               b = demonstration("ropeway-first", {"operation.path.steps=2", "gate_path.resistor=22 ohm",
                                                   "title=\"</script><script>alert(1)</script>\""});
    const std::string html = page_of(a, b);
    const std::string start = "<script type=\"application/json\" id=\"ringquell-comparison\">";
    const size_t begin = html.find(start);
    REQUIRE(begin != std::string::npos);
    const auto data = nlohmann::json::parse(
        html.substr(begin + start.size(), html.find("</script>", begin) - begin - start.size()));
    CHECK(data["comparison"] == 1);
    CHECK(data["a"]["text"] == write_case(a));
    CHECK(data["b"]["text"] == write_case(b));
    CHECK(data["b"]["hash"] == text_hash(write_case(b)));
    CHECK(data["compare"]["inputs"][0]["key"] == "gate_path.resistor.turn_off");
    CHECK(data["b"]["check"]["points"].size() == 10);
    CHECK(html.find("<script>alert") == std::string::npos);
    CHECK(html.find("default-src 'none'") != std::string::npos);
    CHECK(html.find("A DC link kills.") != std::string::npos);
    const std::string own = html.substr(0, html.find("Chart.js"));
    for (const char* loads : {" src=", "href=\"http", "url(", "@import"})
        CHECK(own.find(loads) == std::string::npos);
    // It is no page of a review.
    try {
        read_page(html, "x.html");
        FAIL("read");
    } catch (const InputError& error) {
        CHECK(std::string(error.what()) ==
              "x.html: found no data of this command; expected a page that `ringquell report` has written");
    }
}

TEST_CASE("compare page: a case beside itself has nothing to show but its curves") {
    const Case a = demonstration("ropeway-first", {"operation.path.steps=2"});
    const std::string html = page_of(a, a);
    CHECK(html.find("<h2 id=\"inputs-heading\">What differs in the input</h2>\n<p>Nothing.</p>") !=
          std::string::npos);
    CHECK(html.find("<h2 id=\"results-heading\">What differs in the result</h2>\n<p>Nothing.</p>") !=
          std::string::npos);
    CHECK(html.find("id=\"parts\"") == std::string::npos);
    CHECK(html.find("id=\"path-turn_on-plot\"") != std::string::npos);
}

TEST_CASE(
    "compare page: a part that is nothing in four decimals has no bar, and hundreds of inputs come last") {
    const std::string bars = page_of(demonstration("ropeway-first"),
                                     demonstration("ropeway-first", {"operation.load_current=200 A"}));
    CHECK(bars.find("<span class=\"part\">+0.0000</span> <svg class=\"bar\"") != std::string::npos);
    CHECK(bars.find("width=\"0.00\"") != std::string::npos);
    const std::string far = page_of(demonstration("ice-rink-cascode"), demonstration("tunnel-fan-cascode"));
    CHECK(far.find("<section id=\"inputs\"") > far.find("<section id=\"path\""));
    CHECK(bars.find("<section id=\"inputs\"") < bars.find("<section id=\"path\""));
}
