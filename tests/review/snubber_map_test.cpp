// The least damping over the snubber's capacitance and resistance.
#include "review/snubber_map.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <set>

#include "modes/ranking.h"
#include "support/files.h"
#include "support/relative.h"

using namespace ringquell;
using namespace ringquell::internal;
using test_files::demonstration;

namespace {

CheckResult judged(const Case& input) {
    CheckOptions options;
    options.follow_modes = options.size_gate_resistor = options.gain_margin = false;
    return check(input, options);
}

/// The least of all judged points.
double least_of_path(const Case& input) {
    const CheckResult result = judged(input);
    double out = 2;
    for (const PointResult& r : result.points)
        if (r.point.judged)
            if (const Mode* m = least_damped(r.modes.modes, ModeKind::differential, input.require))
                out = std::min(out, m->damping_ratio());
    return out;
}

}  // namespace

TEST_CASE("snubber map: its cells are the least damping of the whole path with that snubber") {
    const Case input = demonstration("ropeway-first", {"operation.path.steps=8"});
    const SnubberMap map = snubber_map(input, judged(input));
    CHECK(map.not_shown.empty());
    REQUIRE(map.fitted.has_value());
    CHECK_RELATIVE(map.fitted->capacitance_f, 470e-12, 1e-12);
    CHECK(map.points < map.points_of_path);
    REQUIRE(map.capacitance_f.size() == 13);
    REQUIRE(map.resistance_ohm.size() == 13);
    CHECK_RELATIVE(map.capacitance_f.front(), 47e-12, 1e-12);
    CHECK_RELATIVE(map.capacitance_f.back(), 4.7e-9, 1e-12);
    for (const size_t i : {0, 6, 12})
        for (const size_t k : {0, 4, 12}) {
            CAPTURE(i);
            CAPTURE(k);
            Case changed = input;
            for (Position& p : changed.positions) {
                p.snubber->capacitance_f = map.capacitance_f[i];
                p.snubber->resistance_ohm = map.resistance_ohm[k];
            }
            REQUIRE(map.rows[i][k].differential.has_value());
            // A few points stand for all: what they find is never below, and hardly above.
            const double found = map.rows[i][k].differential->damping_ratio, least = least_of_path(changed);
            CHECK(found >= least - 1e-9);
            CHECK(found <= least + 1e-3);
        }
}

TEST_CASE("snubber map: without a snubber it is of typical ones, and the positions may differ") {
    Case input = demonstration("ropeway-first", {"operation.path.steps=2", "snubber="});
    SnubberMap map = snubber_map(input, judged(input));
    CHECK(!map.fitted);
    CHECK(!map.differ);
    CHECK_RELATIVE(map.inductance_h, 5e-9, 1e-12);
    CHECK_RELATIVE(map.capacitance_f.front(), 100e-12, 1e-12);
    CHECK_RELATIVE(map.capacitance_f.back(), 10e-9, 1e-12);
    CHECK_RELATIVE(map.resistance_ohm.front(), 1, 1e-12);
    CHECK_RELATIVE(map.resistance_ohm.back(), 100, 1e-12);
    REQUIRE(map.rows.size() == 13);
    CHECK(map.rows[6][6].differential.has_value());
    input = demonstration("mine-hoist-bus", {"operation.path.steps=2", "snubber[2].capacitance=1 nF"});
    map = snubber_map(input, judged(input));
    CHECK(map.differ);
    CHECK(map.rows.size() == 7);  // every second step
    CHECK(map.points <= 8);       // the candidates of an uneven board
}

TEST_CASE("snubber map: many positions that are not alike have none, and it says why") {
    Case input = demonstration("ropeway-first", {"operation.path.steps=2"});
    while (input.n() < 16) input.positions.push_back(input.positions.front());
    double more = 1;
    for (Position& p : input.positions) p.device.gate_resistance.value_ohm *= more += 0.001;
    *input.operation.load_current_a *= 4;
    const SnubberMap map = snubber_map(input, judged(input));
    CHECK(map.rows.empty());
    CHECK(map.not_shown == "with so many positions that are not alike, it would take minutes");
}
