// The bench file: what it holds, and what is wrong with it.
#include "ringquell/bench_file.h"

#include <cmath>
#include <numbers>

#include "support/case_text.h"
#include "support/relative.h"
#include "support/run_command.h"
#include "test_paths.h"

using namespace ringquell;
using case_text::contains, case_text::replaced;

namespace {

const std::string whole = R"(ringquell_bench: 1
case: board.yaml
probes:
  gates 1-2: {between: ["gate pin[1]", "gate pin[2]"], capacitance: 0.8 pF, resistance: 50 kohm, inductance: 6 nH}
  ideal: {between: ["gate pin[2]", "kelvin rail"]}
records:
- name: turn-off at 110 A
  waveform: {file: turn-off.csv, time: t, value: v12, from: -20 ns, to: 420 ns}
  probe: gates 1-2
  at: {edge: turn_off, vds: 800 V, current: 110 A, complementary: conducting}
- name: ring as read off the screen
  ring: {frequency: 131 MHz, frequency_error: 2 MHz, damping: 0.021, damping_error: 0.006}
  probe: ideal
  at: {point: fall}
- impedance: {file: gate3.s1p, from: 1 MHz, to: 400 MHz, error: 2 %}
  between: ["gate pin[3]", "Kelvin pin[3]"]
  at: unpowered
  driver: high_impedance
model_error: {frequency: 2 %, damping: 5 %}
unknown:
  device.channel.transconductance: {tolerance: 15 %}
  gate_path.inductance: {tolerance: 3 nH, vary: batch}
)";

/// A folder with a bench file and all that it names.
struct Bench : Folder {
    explicit Bench(const std::string& text, const std::string& case_of_it = case_text::base) {
        write(path / "bench.yaml", text);
        write(path / "board.yaml", case_of_it);
        write(path / "turn-off.csv", "t_ns,v12_V\n0,0\n1,1\n");
        write(path / "gate3.s1p", "# Hz S RI R 50\n1e6 1 0\n");
    }
    BenchFile read(const std::vector<std::string>& settings = {},
                   std::vector<std::string>* files = nullptr) const {
        return read_bench((path / "bench.yaml").string(), settings, files);
    }
};

/// With the folder's name taken out.
std::string error_of(const std::string& text, const std::string& case_of_it = case_text::base) {
    const Bench bench(text, case_of_it);
    try {
        bench.read();
    } catch (const InputError& error) {
        std::string out = error.what();
        const std::string folder = bench.path.string() + "/";
        for (size_t at = out.find(folder); at != std::string::npos; at = out.find(folder))
            out.erase(at, folder.size());
        return out;
    }
    return "";
}

std::string error_with(const std::string& from, const std::string& to) {
    return error_of(replaced(whole, from, to));
}

}  // namespace

TEST_CASE("a bench file is read as it is written, in SI units, with paths beside it") {
    const Bench folder(whole);
    std::vector<std::string> files;
    const BenchFile bench = folder.read({}, &files);
    CHECK(bench.case_file == folder / "board.yaml");
    CHECK(bench.input.n() == 3);
    CHECK(files == std::vector<std::string>{folder / "bench.yaml", folder / "turn-off.csv",
                                            folder / "gate3.s1p", folder / "board.yaml"});
    REQUIRE(bench.probes.size() == 2);
    const Probe& probe = bench.probes[0];
    CHECK(probe.name == "gates 1-2");
    CHECK(probe.from == "gate pin[1]");
    CHECK(probe.to == "gate pin[2]");
    CHECK_RELATIVE(probe.capacitance_f, 0.8e-12, 1e-15);
    CHECK_RELATIVE(probe.resistance_ohm.value(), 50e3, 1e-15);
    CHECK_RELATIVE(probe.inductance_h, 6e-9, 1e-15);
    CHECK(probe.place.line == 4);
    CHECK(!bench.probes[1].stands());

    REQUIRE(bench.records.size() == 3);
    const BenchRecord& wave = bench.records[0];
    CHECK(wave.kind == BenchRecord::Kind::waveform);
    CHECK(wave.name == "turn-off at 110 A");
    CHECK(wave.key == "records[1]");
    CHECK(wave.file == folder / "turn-off.csv");
    CHECK(wave.time_column == "t");
    CHECK(wave.value_column == "v12");
    CHECK_RELATIVE(wave.from_s.value(), -20e-9, 1e-15);
    CHECK_RELATIVE(wave.to_s.value(), 420e-9, 1e-15);
    CHECK(wave.probe == "gates 1-2");
    CHECK(wave.from == "gate pin[1]");
    REQUIRE(wave.given.has_value());
    CHECK(wave.given->edge == Edge::turn_off);
    CHECK(wave.given->vds_v == 800);
    CHECK(wave.given->current_a == 110);
    CHECK(wave.given->complementary == Complementary::conducting);

    const BenchRecord& ring = bench.records[1];
    CHECK(ring.kind == BenchRecord::Kind::ring);
    CHECK(ring.frequency_hz == 131e6);
    CHECK(ring.frequency_error_hz == 2e6);
    CHECK(ring.damping_ratio == 0.021);
    CHECK(ring.damping_error == 0.006);
    CHECK(ring.point == "fall");

    const BenchRecord& port = bench.records[2];
    CHECK(port.kind == BenchRecord::Kind::impedance);
    CHECK(port.name == "record 3");
    CHECK(port.from_hz == 1e6);
    CHECK(port.to_hz == 400e6);
    CHECK(port.error == 0.02);
    CHECK(port.probe.empty());
    CHECK(port.to == "Kelvin pin[3]");
    CHECK(port.unpowered);
    CHECK(port.driver_high_impedance);

    CHECK(bench.model_error.frequency == 0.02);
    CHECK(bench.model_error.damping == 0.05);
    CHECK(bench.model_error.damping_at_least == ModelError{}.damping_at_least);
    CHECK(bench.unknown_given);
    CHECK(!bench.unknown_typical);
    REQUIRE(bench.unknown.size() == 2);
    CHECK(bench.unknown[1].key == "gate_path.inductance");
    CHECK(bench.unknown[1].vary == Vary::batch);
    CHECK(bench.warnings.empty());
}

TEST_CASE("a ring's decay is its damping ratio, and so are their errors") {
    const Bench folder(
        replaced(whole, "damping: 0.021, damping_error: 0.006", "decay: 40 ns, decay_error: 4 ns"));
    const BenchRecord ring = folder.read().records[1];
    const double omega = 2 * std::numbers::pi * 131e6, sigma = 1 / 40e-9;
    CHECK_RELATIVE(ring.damping_ratio, sigma / std::hypot(sigma, omega), 1e-14);
    const auto zeta = [&](double decay_s) { return 1 / std::hypot(1.0, omega * decay_s); };
    CHECK_RELATIVE(ring.damping_error, (zeta(39.96e-9) - zeta(40.04e-9)) / 0.08 * 4, 1e-5);
}

TEST_CASE("what is not known is what the bench file says, or typical, or the case's own spread") {
    const std::string start = whole.substr(0, whole.find("unknown:"));
    CHECK(Bench(start).read().unknown.empty());
    const BenchFile typical = Bench(start + "unknown: typical\n").read();
    CHECK(typical.unknown_typical);
    CHECK(typical.unknown.size() > 5);
    const BenchFile own =
        Bench(start, case_text::with_spread("  gate_path.inductance: {tolerance: 10 %}\n")).read();
    CHECK(!own.unknown_given);
    REQUIRE(own.unknown.size() == 1);
    CHECK(own.unknown[0].key == "gate_path.inductance");
}

TEST_CASE("settings change the case of a bench file") {
    CHECK(Bench(whole).read({"positions=5"}).input.n() == 5);
}

TEST_CASE("model errors may be none at all") {
    const ModelError none = Bench(replaced(whole, "{frequency: 2 %, damping: 5 %}", "0")).read().model_error;
    CHECK(none.frequency == 0);
    CHECK(none.damping == 0);
    CHECK(none.damping_at_least == 0);
    CHECK(
        error_with("{frequency: 2 %, damping: 5 %}", "2 %") ==
        "bench.yaml:19:14: model_error: found `2 %`, expected 0 for none, or a map of `frequency`, `damping` "
        "and `damping_at_least`");
    CHECK(error_with("damping: 5 %", "damping: -5 %") ==
          "bench.yaml:19:40: model_error.damping: found `-5 %`, expected no negative value");
}

TEST_CASE("a case given as a bench file, and the reverse, are told apart") {
    CHECK(error_of(case_text::base) ==
          "bench.yaml:1:1: ringquell: this is a case file; expected a bench file, which begins with "
          "`ringquell_bench: 1` and names the case as `case`");
    CHECK(
        error_of(whole, whole) ==
        "board.yaml:1:18: ringquell_bench: this is a bench file, of what was measured; expected a case file, "
        "such as the one that it names as `case`");
    CHECK(error_of("") == "bench.yaml: the file is empty");
    CHECK(error_of("- 1\n") ==
          "bench.yaml:1:1: found a list, expected the keys of a bench file, `ringquell_bench: 1` first");
    CHECK(error_of("case: board.yaml\n") == "bench.yaml:1:1: the key `ringquell_bench` is missing");
    CHECK(error_with("ringquell_bench: 1", "ringquell_bench: 2") ==
          "bench.yaml:1:18: ringquell_bench: found `2`, expected 1, the version of the format that this "
          "program reads");
}

TEST_CASE("files that are not there are errors where they are named") {
    CHECK(contains(error_with("case: board.yaml", "case: bord.yaml"), "bench.yaml:2:7: case: the file `"));
    CHECK(error_with("case: board.yaml", "case: bord.yaml").ends_with("bord.yaml` does not exist"));
    CHECK(error_with("file: turn-off.csv", "file: turn-of.csv") ==
          "bench.yaml:8:20: records[1].waveform.file: the file `turn-of.csv` does not exist");
    CHECK(error_with("file: gate3.s1p", "file: .") ==
          "bench.yaml:15:21: records[3].impedance.file: the file `` is a directory");
    CHECK(error_with("case: board.yaml\n", "") == "bench.yaml:1:1: the key `case` is missing");
}

TEST_CASE("unknown and missing keys are named with the nearest") {
    CHECK(error_with("probes:", "probs:") == "bench.yaml:3:1: probs: unknown key; did you mean `probes`?");
    CHECK(error_with("resistance: 50 kohm", "resistanse: 50 kohm") ==
          "bench.yaml:4:77: probes.gates 1-2.resistanse: unknown key; did you mean `resistance`?");
    CHECK(error_with("  waveform: {file", "  wavefrom: {file") ==
          "bench.yaml:8:3: records[1].wavefrom: unknown key; did you mean `waveform`?");
    CHECK(error_with("frequency_error: 2 MHz", "freq_error: 2 MHz") ==
          "bench.yaml:12:30: records[2].ring.freq_error: unknown key; did you mean `frequency_error`?");
    CHECK(error_with("edge: turn_off, vds: 800 V, ", "edge: turn_off, ") ==
          "bench.yaml:10:7: records[1].at: the key `vds` is missing");
    CHECK(error_with("capacitance: 0.8 pF", "capacitance: 0.8") ==
          "bench.yaml:4:69: probes.gates 1-2.capacitance: found `0.8`, expected a capacitance such as `220 "
          "pF` (a "
          "unit is missing)");
    CHECK(error_with("resistance: 50 kohm", "resistance: 0 ohm") ==
          "bench.yaml:4:89: probes.gates 1-2.resistance: found `0 ohm`, expected a value above zero");
}

TEST_CASE("a record is one measurement, and says where") {
    CHECK(error_with("  ring: {frequency: 131 MHz, frequency_error: 2 MHz, damping: 0.021, damping_error: "
                     "0.006}\n",
                     "") ==
          "bench.yaml:11:3: records[2]: found neither `waveform` nor `ring` nor `impedance`; expected one of "
          "the three");
    CHECK(
        error_with("- impedance:", "- ring: {frequency: 90 MHz, decay: 10 ns}\n  impedance:") ==
        "bench.yaml:16:14: records[3].impedance: found beside `ring`; expected one of `waveform`, `ring` and "
        "`impedance`");
    CHECK(
        error_with("  probe: gates 1-2\n", "  probe: gates 1-3\n") ==
        "bench.yaml:9:10: records[1].probe: `gates 1-3` is no probe of this file; did you mean `gates 1-2`?");
    CHECK(error_with("  probe: ideal\n", "  probe: ideal\n  between: [\"drain rail\", \"source rail\"]\n") ==
          "bench.yaml:14:12: records[2].between: found beside `probe`, which has nodes of its own; expected "
          "one "
          "of the two");
    CHECK(error_with("  probe: ideal\n", "") ==
          "bench.yaml:11:3: records[2]: found neither `probe` nor `between`; expected one of the two");
    CHECK(error_with("  between: [\"gate pin[3]\", \"Kelvin pin[3]\"]\n", "") ==
          "bench.yaml:15:3: records[3]: the key `between` is missing; expected the two nodes that were "
          "measured");
    CHECK(error_with("  between: [\"gate pin[3]\", \"Kelvin pin[3]\"]\n", "  probe: ideal\n") ==
          "bench.yaml:16:10: records[3].probe: found beside `impedance`, which is taken at the nodes "
          "themselves; expected `between`");
    CHECK(
        error_with("[\"gate pin[3]\", \"Kelvin pin[3]\"]", "[\"gate pin[3]\"]") ==
        "bench.yaml:16:12: records[3].between: found a list, expected two nodes, such as `[\"gate pin[1]\", "
        "\"Kelvin pin[1]\"]`");
    CHECK(
        error_with("[\"gate pin[3]\", \"Kelvin pin[3]\"]", "[\"gate pin[3]\", \"gate pin[3]\"]") ==
        "bench.yaml:16:28: records[3].between[2]: found `gate pin[3]`, expected another node than the first");
    CHECK(error_with("- name: ring as read off the screen", "- name: turn-off at 110 A") ==
          "bench.yaml:11:3: records[2].name: `turn-off at 110 A` is the name of records[1], too");
    CHECK(error_of("ringquell_bench: 1\ncase: board.yaml\nrecords: []\n") ==
          "bench.yaml:3:10: records: found a list, expected a list of one record or more");
    CHECK(error_of("ringquell_bench: 1\ncase: board.yaml\n") ==
          "bench.yaml:1:1: the key `records` is missing");
}

TEST_CASE("a record says at which point") {
    const std::string expected = "`unpowered`, `{point: NAME}`, or `{edge, vds, current, complementary}`";
    CHECK(error_with("  at: {point: fall}\n", "") ==
          "bench.yaml:11:3: records[2]: the key `at` is missing; expected " + expected);
    CHECK(error_with("at: {point: fall}", "at: fall") ==
          "bench.yaml:14:7: records[2].at: found `fall`, expected " + expected +
              "; a point of the path is written `at: {point: fall}`");
    CHECK(error_with("at: {point: fall}", "at: {point: fall, vds: 3 V}") ==
          "bench.yaml:14:26: records[2].at.vds: found beside `point`, which has it already");
    CHECK(error_with("  at: unpowered\n", "  at: {point: fall}\n") ==
          "bench.yaml:18:11: records[3].driver: goes with `at: unpowered`; a powered driver is supplied");
    CHECK(error_with("driver: high_impedance", "driver: off") ==
          "bench.yaml:18:11: records[3].driver: found `off`, expected `pull_down` or `high_impedance`");
}

TEST_CASE("values that no measurement gives are refused") {
    CHECK(error_with("from: -20 ns, to: 420 ns", "from: 420 ns, to: -20 ns") ==
          "bench.yaml:8:61: records[1].waveform.from: found 420 ns, at or beyond `to`, -20 ns; expected a "
          "window "
          "from low to high");
    CHECK(error_with("from: 1 MHz, to: 400 MHz", "from: 1 MHz, to: 1 MHz") ==
          "bench.yaml:15:38: records[3].impedance.from: found 1 MHz, at or beyond `to`, 1 MHz; expected a "
          "window "
          "from low to high");
    CHECK(error_with("frequency: 131 MHz", "frequency: 0 MHz") ==
          "bench.yaml:12:21: records[2].ring.frequency: found `0 MHz`, expected a value above zero");
    CHECK(error_with("frequency: 131 MHz", "frequency: 131") ==
          "bench.yaml:12:21: records[2].ring.frequency: found `131`, expected a frequency such as `30 MHz` "
          "(a unit "
          "is missing)");
    CHECK(error_with("damping: 0.021", "damping: 1.2") ==
          "bench.yaml:12:63: records[2].ring.damping: found `1.2`, expected a damping ratio below 1");
    CHECK(error_with("damping_error: 0.006", "damping_error: -0.006") ==
          "bench.yaml:12:85: records[2].ring.damping_error: found `-0.006`, expected no negative value");
    CHECK(error_with(", damping: 0.021, damping_error: 0.006", "") ==
          "bench.yaml:12:9: records[2].ring: found neither `decay` nor `damping`; expected one of the two");
    CHECK(error_with("damping_error: 0.006", "decay: 40 ns") ==
          "bench.yaml:12:63: records[2].ring.damping: found beside `decay`; expected one of the two");
    CHECK(error_with("damping_error: 0.006", "decay_error: 4 ns") ==
          "bench.yaml:12:83: records[2].ring.decay_error: goes with `decay`; expected `damping_error`");
    CHECK(
        error_with("frequency_error: 2 MHz", "frequency_error: 200 MHz") ==
        "bench.yaml:12:47: records[2].ring.frequency_error: found `200 MHz`, expected less than `frequency`");
    CHECK(error_with("error: 2 %", "error: 0 %") ==
          "bench.yaml:15:65: records[3].impedance.error: found `0 %`, expected a value above zero");
}

TEST_CASE("tolerances of what is not known are checked as those of a spread, and named as unknown") {
    CHECK(error_with("gate_path.inductance:", "gate_path.inductanse:") ==
          "bench.yaml:22:3: unknown.gate_path.inductanse: no number has this key; did you mean "
          "`gate_path.inductance`?");
    CHECK(error_with("tolerance: 15 %", "tolerance: 0 %") ==
          "bench.yaml:21:48: unknown.device.channel.transconductance.tolerance: found `0 %`, expected a "
          "tolerance above zero");
    CHECK(error_of(whole.substr(0, whole.find("unknown:")) + "unknown: usual\n") ==
          "bench.yaml:20:10: unknown: found `usual`, expected `typical`, or a map of keys and their "
          "tolerances");
}

TEST_CASE("a probe that no record uses, one that does nothing and one of a slipped unit are warned of") {
    const BenchFile unused = Bench(replaced(whole, "  probe: ideal\n", "  probe: gates 1-2\n")).read();
    REQUIRE(unused.warnings.size() == 1);
    CHECK(unused.warnings[0] == Warning{"probes.ideal", "no record was taken with this probe"});
    const BenchFile idle =
        Bench(replaced(whole, "\"kelvin rail\"]}", "\"kelvin rail\"], inductance: 4 nH}")).read();
    REQUIRE(idle.warnings.size() == 1);
    CHECK(idle.warnings[0] ==
          Warning{"probes.ideal.inductance",
                  "without `capacitance` or `resistance` behind it no current flows, and it does nothing"});
    const BenchFile slipped = Bench(replaced(whole, "0.8 pF", "8 nF")).read();
    REQUIRE(slipped.warnings.size() == 1);
    CHECK(slipped.warnings[0] ==
          Warning{"probes.gates 1-2.capacitance",
                  "8 nF is much for a probe; differential ones have about a picofarad, "
                  "passive ones ten"});
}
