#include "ringquell/case.h"

#include <doctest/doctest.h>

#include <memory>

using namespace ringquell;

TEST_CASE("where a value was read is no part of it, nor are the points that a bead was fitted to") {
    Tolerance here, there;
    here.place = Place{"a.yaml", 3, 7};
    there.place = Place{"b.yaml", 1, 1};
    CHECK(here == there);
    there.amount = 0.1;
    CHECK(here != there);
    Bead bead{"b", 0.1, 1e-12, {{1, 2e-9}}, {}};
    Bead fitted = bead;
    fitted.measured.points = std::make_shared<std::vector<MeasuredCurve::Point>>();
    CHECK(fitted == bead);
    fitted.name = "c";
    CHECK(fitted != bead);
}

TEST_CASE("a table's factors decide whether crss is still a part of ciss and coss") {
    CapacitanceTable table;
    const CapacitanceTable::Row row{400, 3e-9, 200e-12, 20e-12};
    CHECK(table.holds_reverse_capacitance(row));
    table.crss_factor = 10;
    CHECK(table.holds_reverse_capacitance(row));
    table.coss_factor = 0.99;
    CHECK(!table.holds_reverse_capacitance(row));
}
