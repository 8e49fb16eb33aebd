#include "base/lists.h"

#include <doctest/doctest.h>

using namespace ringquell::internal;

TEST_CASE("three neighbours or more become a range") {
    CHECK(numbers_text({}).empty());
    CHECK(numbers_text({3}) == "3");
    CHECK(numbers_text({1, 2, 4}) == "1, 2, 4");
    CHECK(numbers_text({1, 2, 3, 4, 6}) == "1 to 4, 6");
    CHECK(numbers_text({2, 5, 6, 7}) == "2, 5 to 7");
}

TEST_CASE("positions are named unless there is one only") {
    CHECK(at_positions({2}, 3) == " (position 2)");
    CHECK(at_positions({1, 3}, 3) == " (positions 1, 3)");
    CHECK(at_positions({1, 2, 3}, 3) == " (every position)");
    CHECK(at_positions({1}, 1).empty());
}
