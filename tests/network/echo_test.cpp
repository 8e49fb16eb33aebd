// What `check --network` says of loops and couplings.
#include <doctest/doctest.h>

#include <cmath>

#include "ringquell/network_echo.h"
#include "ringquell/operating_path.h"
#include "support/files.h"
#include "support/relative.h"

using namespace ringquell;
using namespace test_files;

TEST_CASE("check --network: loops are sums of their inductances and mutual terms") {
    const Case input = read_case(reference + "ladder-3-coupled.yaml",
                                 {"couplings=[{between: [gate_path, kelvin_path], mutual: -2 nH}]"});
    const NetworkEcho echo = network_echo(input, operating_path(input).points.front());
    REQUIRE(echo.positions.size() == 2);  // positions 1 and 2 are alike, 3 has a longer gate path
    CHECK_RELATIVE(echo.positions[0].gate_kelvin_loop_h, (7 + 5 + 4 + 5 - 2 * 2) * 1e-9, 1e-12);
    CHECK_RELATIVE(echo.positions[1].gate_kelvin_loop_h, (12 + 5 + 4 + 5 - 2 * 2) * 1e-9, 1e-12);
    CHECK_RELATIVE(echo.neighbour_loop_h[0], (2 * (4 + 2 + 3 + 3) + 1.2 + 1.0) * 1e-9, 1e-12);
    CHECK_RELATIVE(echo.power_loop_h, 13e-9, 1e-12);
    CHECK_RELATIVE(echo.power_loop_with_positions_h, (13 + 12.0 / 3) * 1e-9, 1e-9);
    REQUIRE(echo.couplings.size() == 3);
    CHECK_RELATIVE(echo.couplings[0].coefficient, -2 / std::sqrt(35.0), 1e-9);
}
