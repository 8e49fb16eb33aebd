#include "base/columns.h"

#include <doctest/doctest.h>

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
