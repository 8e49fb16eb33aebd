// Elements of uneven boards, folded by element.
#include <doctest/doctest.h>

#include <cmath>

#include "page/data.h"
#include "support/files.h"
#include "support/relative.h"

using namespace ringquell;
using namespace ringquell::internal;
using test_files::demonstration;

TEST_CASE("page: elements at several positions are one row with the sums, and with each of them") {
    const Explanation e = explain(demonstration("mine-hoist-bus", {"operation.path.steps=2"}), {false});
    const Json modes = explained_value(e);
    REQUIRE(modes.size() == e.modes.size());
    for (size_t k = 0; k < modes.size(); ++k) {
        const Json& folded = modes[k]["by_element"];
        double energy = 0, power = 0;
        size_t each = 0;
        bool six = false, segments = false;
        for (const Json& row : folded) {
            double sum = 0;
            for (const Json& one : row["each"]) {
                sum += one[2].get<double>();
                ++each;
            }
            // Each is rounded to four digits.
            CHECK(std::abs(sum - row["energy_share"].get<double>()) <=
                  5e-4 * std::abs(row["energy_share"].get<double>()) + 1e-12);
            energy += row["energy_share"].get<double>();
            power += row["power_share"].get<double>();
            if (row["name"] == "gate_path.inductance") {
                six = row["each"].size() == 6;
                for (int n = 1; n <= 6; ++n) CHECK(row["each"][static_cast<size_t>(n - 1)][0] == n);
            }
            if (row["name"] == "buses.drain.inductance") segments = row["each"].size() == 5;
        }
        CHECK(six);
        CHECK(segments);
        CHECK(each == e.modes[k].elements.size());
        CHECK(std::abs(energy - e.modes[k].energy_sum) < 1e-9);
        CHECK(std::abs(power + e.modes[k].damping_sum) < 1e-9);
        CHECK(folded[0]["energy_share"].get<double>() + std::abs(folded[0]["power_share"].get<double>()) >=
              folded[1]["energy_share"].get<double>() + std::abs(folded[1]["power_share"].get<double>()));
        // A coupling of the case is one number.
        for (const Json& row : folded)
            if (row["name"].get<std::string>().starts_with("couplings[")) CHECK(row["each"].size() == 1);
    }
}

TEST_CASE("page: alike positions have nothing to fold") {
    for (const Json& mode :
         explained_value(explain(demonstration("ropeway-first", {"operation.path.steps=2"}), {false})))
        CHECK(mode["by_element"].is_null());
}
