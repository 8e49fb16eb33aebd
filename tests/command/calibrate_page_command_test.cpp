// `calibrate --page` from outside: what it writes, prints and refuses.
#include "support/case_text.h"
#include "support/files.h"
#include "support/run_command.h"

namespace {

using case_text::contains;

const std::string ring = "calibrate '" + test_files::cases +
                         "ropeway-first.yaml' --ring 118MHz:50ns --at 'turn_on current 1' --no-next ";

}  // namespace

TEST_CASE("calibrate --page writes the page beside the text, which is as without it but for its last line") {
    const Folder folder;
    const Ran with = run(ring + "--page ring.html", folder.path.string()), without = run(ring);
    CHECK(with.status == 0);
    CHECK(with.err.empty());
    const std::string page = content(folder.path / "ring.html");
    CHECK(page.starts_with("<!DOCTYPE html>\n"));
    CHECK(page.ends_with("</html>\n"));
    CHECK(with.out ==
          without.out + "The page is ring.html (" + std::to_string((page.size() + 999) / 1000) + " kB).\n");
    CHECK(run(ring + "--quiet --page ring.html", folder.path.string()).out == run(ring + "--quiet").out);
}

TEST_CASE("calibrate --page - prints the page in place of the text, the same bytes for the same date") {
    const Folder folder;
    const Ran printed = run(ring + "--page -"), written = run(ring + "--page p.html", folder.path.string());
    CHECK(printed.status == 0);
    CHECK(written.status == 0);
    const auto undated = [](std::string page) {
        const size_t at = page.find("<dt>Made</dt><dd>"), data = page.find("\"made\":\"");
        REQUIRE(at != std::string::npos);
        REQUIRE(data != std::string::npos);
        page.erase(data, page.find("\",", data) - data);
        return page.erase(at, page.find("</dd>", at) - at);
    };
    CHECK(undated(printed.out) == undated(content(folder.path / "p.html")));
}

TEST_CASE("calibrate --page refuses the place of another output") {
    const Folder folder;
    const Ran ran = run(ring + "-o same --page same", folder.path.string());
    CHECK(ran.status == 2);
    CHECK(ran.out.empty());
    CHECK(ran.err == "ringquell: same: --page: is the file of --output, too; expected another file\n");
    CHECK(folder.entries() == 0);
}
