// Where records of the bench belong on the path of their case.
#include "ringquell/record_points.h"

#include <doctest/doctest.h>

#include <cmath>

#include "ringquell/modes.h"
#include "ringquell/ports.h"
#include "ringquell/ring_fit.h"
#include "support/case_text.h"
#include "support/curve_cases.h"
#include "support/files.h"
#include "support/relative.h"

using namespace ringquell;

namespace {

BenchRecord record() {
    BenchRecord out;
    out.key = "records[2]";
    out.at_place = Place{"bench.yaml", 9, 7};
    return out;
}

std::string error_of(const BenchRecord& wrong, const Case& input) {
    try {
        locate(wrong, input, operating_path(input));
    } catch (const InputError& error) {
        return error.what();
    }
    return "";
}

}  // namespace

TEST_CASE("a record at a named point is at that point of the path") {
    const Case input = test_files::demonstration("ropeway-first");
    const OperatingPath path = operating_path(input);
    BenchRecord at = record();
    at.point = path.points[7].name;
    const OperatingPoint found = locate(at, input, path);
    CHECK(found.name == path.points[7].name);
    CHECK(same_network(found, path.points[7]));
}

TEST_CASE("a point that the record gives is what the same point of the case would be") {
    const Case input = test_files::demonstration("ropeway-first");
    const OperatingPath path = operating_path(input);
    for (const size_t k : {size_t{5}, path.points.size() - 1}) {
        const OperatingPoint& there = path.points[k];
        BenchRecord at = record();
        at.given = BenchPoint{there.edge, there.vds_v, there.current_a, there.complementary};
        const OperatingPoint found = locate(at, input, path);
        CHECK(found.devices == there.devices);
        CHECK(found.complementary_capacitance_f == there.complementary_capacitance_f);
        CHECK(found.edge == there.edge);
    }
    BenchRecord at = record();
    at.given = BenchPoint{Edge::turn_off, 800, 110, Complementary::conducting};
    CHECK(locate(at, input, path).name == "turn_off, 800 V, 110 A, conducting");
}

TEST_CASE("an unpowered record is at the board without supply") {
    const Case input = case_text::read(case_text::base);
    BenchRecord at = record();
    at.unpowered = true;
    CHECK(same_network(locate(at, input, operating_path(input)), unpowered_point(input)));
}

TEST_CASE("a record at a point that the path lacks is refused with the nearest, or with all stages") {
    const Case input = test_files::demonstration("ropeway-first");
    BenchRecord at = record();
    at.point = "turn_off curent 5";
    CHECK(error_of(at, input) ==
          "bench.yaml:9:7: records[2].at.point: `turn_off curent 5` is no point of this case's path; did you "
          "mean `turn_off current 5`?");
    at.point = "somewhere";
    CHECK(
        error_of(at, input) ==
        "bench.yaml:9:7: records[2].at.point: `somewhere` is no point of this case's path; valid here: "
        "`turn_on current 0` to `turn_on current 24`, `turn_on voltage 1` to `turn_on voltage 24`, `turn_off "
        "current 0` to `turn_off current 24`, `turn_off voltage 1` to `turn_off voltage 24`");
}

TEST_CASE("a record at a point that cannot be is refused at the record") {
    const Case input = test_files::demonstration("ropeway-first");
    BenchRecord at = record();
    at.given = BenchPoint{Edge::turn_off, -5, 110, Complementary::conducting};
    CHECK(error_of(at, input).starts_with("bench.yaml:9:7: records[2].at: "));
}

TEST_CASE("while a record is taken its probe alone hangs on the board, and a driver without supply is open") {
    const Case input = case_text::read(case_text::base);
    BenchFile bench;
    Probe one, two;
    one.name = "one";
    two.name = "two";
    two.capacitance_f = 2e-12;
    bench.probes = {one, two};
    BenchRecord taken = record();
    CHECK(while_measured(input, bench, taken).probes.empty());
    CHECK(while_measured(input, bench, taken).driver.pull_down_resistance_ohm ==
          input.driver.pull_down_resistance_ohm);
    taken.probe = "two";
    taken.driver_high_impedance = true;
    const Case there = while_measured(input, bench, taken);
    REQUIRE(there.probes.size() == 1);
    CHECK(there.probes[0].name == "two");
    CHECK(there.driver.pull_down_resistance_ohm == unsupplied_driver_ohm);
}

TEST_CASE("every record of the demonstration is at a point and at nodes that its case has") {
    const BenchFile bench = read_bench(test_files::cases + "bench/ropeway-first.yaml");
    CHECK(bench.warnings.empty());
    CHECK(bench.unknown_typical);
    const OperatingPath path = operating_path(bench.input);
    REQUIRE(bench.records.size() == 3);
    for (const BenchRecord& r : bench.records) {
        CAPTURE(r.name);
        const Case there = while_measured(bench.input, bench, r);
        CHECK(there.probes.size() == (r.probe.empty() ? 0 : 1));
        const Network network = network_with_ports(there, locate(r, bench.input, path), {{r.from, r.to}},
                                                   r.nodes_place, r.key + ".between");
        CHECK(!network.ports.front().across.empty());
    }
    // The first of the two rings is the second one's point by its own values.
    CHECK(same_network(locate(bench.records[1], bench.input, path),
                       locate(bench.records[2], bench.input, path)));
}

TEST_CASE("a record between nodes that are not there is refused at the record") {
    const Case input = case_text::read(case_text::base);
    const OperatingPoint point = operating_path(input).points.front();
    CHECK_THROWS_WITH_AS(
        network_with_ports(input, point, {{"gate pin[1]", "Kelvn pin[1]"}}, {"bench.yaml", 4, 12},
                           "records[1].between"),
        "bench.yaml:4:12: records[1].between: `Kelvn pin[1]` is no node of this network; did you "
        "mean `Kelvin pin[1]`?",
        InputError);
}

TEST_CASE(
    "the demonstration's waveform rings where its board, with other inductances than the case states, does") {
    const BenchFile bench = read_bench(test_files::cases + "bench/ropeway-first.yaml",
                                       {"gate_path.inductance=11.5nH", "source_path.inductance=5.3nH"});
    const BenchRecord& record = bench.records[1];
    REQUIRE(record.kind == BenchRecord::Kind::waveform);
    RingFitOptions window;
    window.from_s = record.from_s;
    window.to_s = record.to_s;
    const FittedRing ring =
        fit_ring(read_waveform(record.file, record.time_column, record.value_column), window).rings.front();
    const Case there = while_measured(bench.input, bench, record);
    const OperatingPoint point = locate(record, bench.input, operating_path(bench.input));
    const Mode* least = nullptr;
    const Modes modes = ModeSolver(there).solve(point);
    for (const Mode& m : modes.modes)
        if (in_band(m, there.require) && m.oscillates() && m.kind == ModeKind::differential &&
            (!least || relative_difference(m.ringing_frequency_hz(), ring.frequency_hz) <
                           relative_difference(least->ringing_frequency_hz(), ring.frequency_hz)))
            least = &m;
    REQUIRE(least != nullptr);
    CHECK(std::abs(ring.frequency_hz - least->ringing_frequency_hz()) < 4 * ring.frequency_error_hz);
    CHECK(std::abs(ring.damping_ratio - least->damping_ratio()) < 4 * ring.damping_error);
    CHECK_RELATIVE(ring.frequency_hz, 112e6, 5e-3);
}
