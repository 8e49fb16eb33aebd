#include "base/columns.h"

#include <doctest/doctest.h>

#include <string>
#include <vector>

using namespace ringquell::internal;

TEST_CASE("the first line with content is the header, and the first separator that it has parts all lines") {
    const ColumnText found =
        columns_of("# a comment\n\n\"a\";b,c # with what follows\r\n1 ; 2,3\n\"\"\n4;5\n", ";\t,");
    CHECK(found.separator == ';');
    CHECK(found.header.line == 3);
    REQUIRE(found.header.fields.size() == 2);
    CHECK(found.header.fields[0].text == "a");
    CHECK(found.header.fields[1].text == "b,c");
    REQUIRE(found.rows.size() == 2);
    CHECK(found.rows[0].line == 4);
    CHECK(found.rows[0].fields[1].text == "2,3");
    CHECK(found.rows[0].fields[1].column == 5);
    CHECK(found.rows[1].line == 6);
    CHECK(columns_of("a,b\tc", "\t;,").separator == '\t');
    CHECK(columns_of("a,b\tc;d", ";\t,").separator == ';');
    CHECK(columns_of("a b", ";\t,").separator == ',');
    CHECK(columns_of("# nothing\n \n", ";\t,").header.line == 0);
}

TEST_CASE("lines end by LF, CR LF or CR, also mixed, and are cut one by one as all at once") {
    const auto lines = [](std::string_view text) {
        std::vector<std::string> out;
        for (const std::string_view line : lines_of(text)) out.emplace_back(line);
        LineCutter cutter(text);
        size_t count = 0;
        for (std::string_view line; cutter.next(line); ++count) {
            REQUIRE(count < out.size());
            CHECK(line == out[count]);
            CHECK(cutter.number() == static_cast<int>(count) + 1);
        }
        CHECK(count == out.size());
        return out;
    };
    using List = std::vector<std::string>;
    CHECK(lines("").empty());
    CHECK(lines("a") == List{"a"});
    CHECK(lines("a\nb\n") == List{"a", "b"});
    CHECK(lines("a\r\nb\r\n") == List{"a", "b"});
    CHECK(lines("a\rb\rc") == List{"a", "b", "c"});
    CHECK(lines("a\r\n\r\n\rb\n\nc\r") == List{"a", "", "", "b", "", "c"});
    CHECK(lines("\n\r\r\n") == List{"", "", ""});
    CHECK(lines("\xEF\xBB\xBF"
                "a\n") == List{"a"});
}
