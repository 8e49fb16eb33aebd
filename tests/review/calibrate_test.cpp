// From the bench back into the case: what was changed is found again, and what cannot be is said.
#include "ringquell/calibrate.h"

#include <doctest/doctest.h>

#include <algorithm>

#include "case/sample_space.h"
#include "ringquell/ports.h"
#include "ringquell/report.h"
#include "ringquell/write_case.h"
#include "support/bench_boards.h"
#include "support/case_text.h"
#include "support/files.h"
#include "support/relative.h"
#include "support/run_command.h"

using namespace bench_boards;
using case_text::contains;
using test_files::demonstration;

namespace {

Tolerance open(const std::string& key, double share, Vary vary = Vary::batch) {
    Tolerance t;
    t.key = key;
    t.amount = share;
    t.relative = true;
    t.vary = vary;
    return t;
}

BenchFile bench_of(const Case& input) {
    BenchFile out;
    out.file = "bench.yaml";
    out.input = input;
    return out;
}

BenchRecord ring(const std::string& point, double frequency_hz, double damping) {
    BenchRecord out = between(at(point), "gate pin[1]", "gate pin[2]");
    out.name = "ring";
    out.key = "records[1]";
    out.kind = BenchRecord::Kind::ring;
    out.frequency_hz = frequency_hz;
    out.damping_ratio = damping;
    return out;
}

CalibrateOptions without_next() {
    CalibrateOptions out;
    out.next = false;
    return out;
}

const CalibratedUnknown& unknown(const Calibration& c, const std::string& key) {
    const auto found = std::find_if(c.unknowns.begin(), c.unknowns.end(),
                                    [&](const CalibratedUnknown& u) { return u.key == key; });
    REQUIRE(found != c.unknowns.end());
    return *found;
}

}  // namespace

TEST_CASE("what export writes, calibrate reads back to the values it was made with") {
    Folder folder;
    const std::string file = folder / "gate1.s1p";
    const Case truth = demonstration(
        "ropeway-first",
        {"gate_path.inductance=10.3 nH", "device.capacitance.cgs=3.5 nF", "device.gate_resistance=1.35 ohm"});
    std::vector<double> hz;
    for (double f = 1e6; f < 400e6; f *= 1.1) hz.push_back(f);
    write(file,
          touchstone_text(scattering(truth, unpowered_point(truth), {{"gate pin[1]", "Kelvin pin[1]"}}, hz),
                          "ropeway-first.yaml"));
    BenchFile bench = bench_of(demonstration("ropeway-first"));
    BenchRecord record = between({}, "gate pin[1]", "Kelvin pin[1]");
    record.name = "gate port";
    record.kind = BenchRecord::Kind::impedance;
    record.unpowered = true;
    record.file = file;
    record.error = 1e-4;
    bench.records = {record};
    bench.unknown = {open("gate_path.inductance", 0.4), open("device.capacitance.cgs", 0.2),
                     open("device.gate_resistance", 0.3)};
    bench.unknown_given = true;
    const Calibration c = calibrate(bench.input, bench, without_next());
    CHECK(c.explained());
    CHECK_RELATIVE(unknown(c, "gate_path.inductance").after, 10.3e-9, 1e-3);
    CHECK_RELATIVE(unknown(c, "device.capacitance.cgs").after, 3.5e-9, 1e-3);
    CHECK_RELATIVE(unknown(c, "device.gate_resistance").after, 1.35, 1e-3);
    for (const CalibratedUnknown& u : c.unknowns) CHECK(u.narrowed < 0.01);
}

TEST_CASE("two of one string are known together and not apart") {
    BenchFile bench = bench_of(demonstration("ropeway-first"));
    const Case truth = demonstration("ropeway-first", {"gate_path.inductance=11 nH"});
    UnknownCase real(truth, {});
    const std::optional<Mode> seen = most_visible(real, ring("turn_on current 7", 1, 0), Eigen::VectorXd(0));
    REQUIRE(seen);
    bench.records = {ring("turn_on current 7", seen->ringing_frequency_hz(), seen->damping_ratio())};
    bench.records[0].frequency_error_hz = 1e-3 * bench.records[0].frequency_hz;
    bench.records[0].damping_error = 1e-3;
    bench.model_error = {0, 0, 0};
    bench.unknown = {open("gate_path.inductance", 0.3), open("device.package.gate", 0.45)};
    bench.unknown_given = true;
    const Calibration c = calibrate(bench.input, bench, without_next());
    REQUIRE(!c.combinations.empty());
    const CalibratedCombination& sum = c.combinations.front();
    CHECK(sum.is_sum);
    CHECK(sum.plus.size() == 2);
    CHECK(sum.minus.empty());
    CHECK_RELATIVE(sum.value, 17e-9, 0.02);
    CHECK(sum.error < 0.02 * sum.value);
    REQUIRE(sum.opposite_narrowed);
    CHECK(*sum.opposite_narrowed > 0.95);
    // In the table of single changes they are one row.
    const auto row =
        std::find_if(c.single_changes.begin(), c.single_changes.end(), [](const SingleChangeRow& r) {
            return std::find(r.keys.begin(), r.keys.end(), "gate_path.inductance") != r.keys.end();
        });
    REQUIRE(row != c.single_changes.end());
    CHECK(std::find(row->keys.begin(), row->keys.end(), "device.package.gate") != row->keys.end());
    CHECK(row->explains);
    CHECK_RELATIVE(row->to - row->from, 2e-9, 0.1);
    // With a correlation, as a case file says it and takes it back.
    const Case again = read_case_text(write_case(c.calibrated), "again.yaml");
    CHECK(again.spread == read_case_text(write_case(again), "again.yaml").spread);
    REQUIRE(again.spread.size() == 2);
    REQUIRE(again.spread[1].correlations.size() == 1);
    CHECK(again.spread[1].correlations[0].coefficient < -0.9);
    CHECK_NOTHROW(SampleSpace{again});
}

TEST_CASE("a ring far from every mode: nothing in this case rings like that") {
    BenchFile bench = bench_of(demonstration("ropeway-first"));
    bench.records = {ring("turn_on current 7", 3.1e9, 0.02)};
    const Calibration c = calibrate(bench.input, bench, without_next());
    CHECK(!c.explained());
    REQUIRE(c.records.size() == 1);
    CHECK(c.records[0].nothing_rings_like_that);
    REQUIRE(c.records[0].nearest);
    const std::string text = calibrate_text(c, "");
    CHECK(
        text.starts_with("NOT EXPLAINED: ropeway brake inverter, as first laid out; nothing in this case "
                         "rings like \"ring\"\n"));
    CHECK(contains(text, "Nothing in this case rings like that. The nearest in frequency: "));
    CHECK(contains(calibrate_json(c, ""), "\"explained\": false"));
}

TEST_CASE("a ring that no number moved alone and no tolerance reaches is not explained either") {
    BenchFile bench = bench_of(demonstration("ropeway-first"));
    bench.records = {ring("turn_on current 7", 25e6, -0.2)};
    const Calibration c = calibrate(bench.input, bench, without_next());
    CHECK(c.plausibility < 1e-9);
    CHECK(!c.explained());
    CHECK(contains(calibrate_text(c, ""), "Nothing is settled by records that the case cannot explain"));
}

TEST_CASE("a number beyond its tolerance is found, and the verdict says that it is beyond") {
    const Case truth = demonstration("ropeway-first", {"drain_path.inductance=9 nH"});
    UnknownCase real(truth, {});
    const std::optional<Mode> seen = most_visible(real, ring("turn_on current 7", 1, 0), Eigen::VectorXd(0));
    REQUIRE(seen);
    BenchFile bench = bench_of(demonstration("ropeway-first"));
    bench.records = {ring("turn_on current 7", seen->ringing_frequency_hz(), seen->damping_ratio())};
    bench.records[0].frequency_error_hz = 1e-3 * bench.records[0].frequency_hz;
    bench.records[0].damping_error = 5e-4;
    bench.model_error = {0, 0, 0};
    bench.unknown = {open("drain_path.inductance", 0.1), open("gate_path.inductance", 0.05)};
    bench.unknown_given = true;
    const Calibration c = calibrate(bench.input, bench, without_next());
    CHECK(c.explained());
    CHECK(!c.within_tolerances());
    REQUIRE(!c.single_changes.empty());
    CHECK(c.single_changes[0].keys[0] == "drain_path.inductance");
    CHECK(c.single_changes[0].explains);
    CHECK_RELATIVE(c.single_changes[0].to, 9e-9, 0.05);
    CHECK(c.single_changes[0].tolerances > 5);
    CHECK(contains(calibrate_text(c, ""), "EXPLAINED BEYOND THE TOLERANCES: "));
    CHECK(contains(calibrate_text(c, ""), "Out of their tolerances: drain_path.inductance"));
}

TEST_CASE("a record takes nothing from what it cannot see") {
    // Of a case that is right: values stay, and each unknown is known as well as before, or better.
    const Case input = demonstration("ropeway-first");
    UnknownCase real(input, {});
    const std::optional<Mode> seen = most_visible(real, ring("turn_on current 7", 1, 0), Eigen::VectorXd(0));
    BenchFile bench = bench_of(input);
    bench.records = {ring("turn_on current 7", seen->ringing_frequency_hz(), seen->damping_ratio())};
    const Calibration c = calibrate(input, bench, {});
    CHECK(c.plausibility > 0.99);
    for (const CalibratedUnknown& u : c.unknowns) {
        CHECK(u.narrowed <= 1 + 1e-9);
        CHECK(std::abs(u.after - u.before) <= 0.1 * u.before_error);
    }
    CHECK(c.next.size() == 5);
    for (const NextMeasurement& m : c.next) {
        CHECK(m.left > 0);
        CHECK(m.left <= 1 + 1e-9);
    }
    CHECK(contains(c.remarks.at(0), "`typical` tolerances are taken"));
}

TEST_CASE("a driver without supply is one while it is measured, not in the calibrated case") {
    Folder folder;
    const Case input = demonstration("ropeway-first");
    Case measured = input;
    measured.driver.pull_down_resistance_ohm = unsupplied_driver_ohm;
    const std::string file = folder / "gate1.s1p";
    write(file, touchstone_text(scattering(measured, unpowered_point(measured),
                                           {{"gate pin[1]", "Kelvin pin[1]"}}, {2e6, 20e6, 200e6}),
                                "ropeway-first.yaml"));
    BenchFile bench = bench_of(input);
    BenchRecord record = between({}, "gate pin[1]", "Kelvin pin[1]");
    record.name = "gate port";
    record.kind = BenchRecord::Kind::impedance;
    record.unpowered = record.driver_high_impedance = true;
    record.file = file;
    bench.records = {record};
    bench.unknown = {open("gate_path.inductance", 0.1)};
    bench.unknown_given = true;
    const Calibration c = calibrate(input, bench, {});
    CHECK(c.records[0].off_before < 1e-3);
    CHECK(c.calibrated.driver.pull_down_resistance_ohm == input.driver.pull_down_resistance_ohm);
    CHECK(c.calibrated.probes.empty());
    CHECK_RELATIVE(c.worst_after, c.worst_before, 1e-3);
}
