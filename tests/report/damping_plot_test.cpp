// The plot of characters.
#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <sstream>
#include <string>

#include "ringquell/report.h"

using namespace ringquell;

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
