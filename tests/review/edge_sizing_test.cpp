// The value to fit, judged as `--set` of it is; numbers that fail on the way to it.
#include "review/edge_sizing.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "devices/gate_current.h"
#include "numerics/small_eigen.h"
#include "review/gate_sweep.h"
#include "ringquell/choose.h"
#include "ringquell/vary.h"
#include "sizing/e24.h"
#include "sizing/window_search.h"
#include "support/case_text.h"
#include "support/relative.h"
#include "test_paths.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

const std::string cases = std::string(RINGQUELL_CASES) + "/";

CheckOptions plain(bool size = true) {
    CheckOptions options;
    options.follow_modes = false;
    options.size_gate_resistor = size;
    return options;
}

/// Least damping of the differential modes at the judged points of an edge, with this resistor set.
double least_when_set(Case input, Edge edge, double ohm) {
    fit_gate_resistor(input, edge, ohm);
    double least = 2;
    for (const PointResult& r : check(input, plain(false)).points) {
        if (r.point.edge != edge || !r.point.judged) continue;
        for (const Mode& mode : r.modes.modes)
            if (mode.kind == ModeKind::differential && mode.oscillates() && in_band(mode, input.require))
                least = std::min(least, mode.damping_ratio());
    }
    return least;
}

bool passes_when_set(Case input, Edge edge, double ohm) {
    fit_gate_resistor(input, edge, ohm);
    for (const PointResult& r : check(input, plain(false)).points)
        if (r.point.edge == edge && r.point.judged &&
            std::any_of(r.modes.modes.begin(), r.modes.modes.end(),
                        [&](const Mode& m) { return misses(m, input.require); }))
            return false;
    return true;
}

/// The demonstration case whose bead saturates, at few points.
Case ski_lift(const std::vector<std::string>& more = {}) {
    std::vector<std::string> settings{"require.differential_damping=0.225", "operation.path.steps=6"};
    settings.insert(settings.end(), more.begin(), more.end());
    return read_case(cases + "ski-lift-curves.yaml", settings);
}

/// A pair whose fitted bead is biased harder the smaller the resistor is.
const std::string bead =
    "gate_path.bead={resistance: 30 ohm, inductance: 150 nH, saturation: [[0 A, 1.0], [1 A, 0.6], [3 A, "
    "0.15]]}";
Case ropeway_with_bead(const std::vector<std::string>& more = {}) {
    std::vector<std::string> settings{bead, "operation.path.steps=3"};
    settings.insert(settings.end(), more.begin(), more.end());
    return read_case(cases + "ropeway-first.yaml", settings);
}

/// Three positions with a snubber behind so large a resistor that its charge comes out
/// within rounding of standing still.
const std::string gigohm_snubber = R"(ringquell: 1
positions: 3
device:
  kind: mosfet
  gate_resistance: 1.2 ohm
  package: {gate: 6 nH, drain: 3 nH, source: 4 nH, kelvin: 5 nH}
  channel: {threshold: 4.2 V, gain: 5.2 A, exponent: 1.7, knee_voltage: 8 V, output_slope: 0.0005 /V}
  capacitance: {cgs: 3.3 nF, cgd: 16 pF, cds: 210 pF, output_resistance: 1 ohm}
gate_path: {resistor: 4.7 ohm, inductance: 9 nH}
kelvin_path: {inductance: 7 nH}
drain_path: {inductance: 5 nH}
source_path: {inductance: 4 nH}
snubber: {capacitance: 470 pF, resistance: 1e9 ohm}
overrides: [{position: 2, drain_path: {inductance: 6 nH}}]
driver: {pull_up_resistance: 0.8 ohm, pull_down_resistance: 0.5 ohm, inductance: 6 nH}
power_loop: {inductance: 14 nH, complementary: {capacitance: 240 pF, on_resistance: 6 mohm}}
operation:
  bus_voltage: 800 V
  load_current: 240 A
  drive: {high: 18 V, low: -4 V}
  path: {steps: 6}
require: {differential_damping: 0.05, band: [1 MHz, 300 MHz]}
)";

}  // namespace

TEST_CASE("with a bead that saturates the preferred value passes when it is set") {
    const Case input = ski_lift();
    const CheckResult result = check(input, plain());
    REQUIRE(result.gate_resistance.size() == 2);
    for (const auto& [edge, sizing] : result.gate_resistance) {
        CAPTURE(edge_name(edge));
        REQUIRE(sizing.preferred_ohm);
        CHECK(sizing.passes_with_preferred);
        CHECK(passes_when_set(input, edge, *sizing.preferred_ohm));
        CHECK(!sizing.acceptable.complete);
        CHECK(sizing.acceptable.why_not_complete ==
              "the bias of a saturating bead moves with the resistor, so values were sampled, each with its "
              "own bias");
    }
    // What was preferred with the bias of the fitted resistor.
    CHECK(!passes_when_set(input, Edge::turn_on, 1));
}

TEST_CASE("with a bead that saturates a window's end is where a check of that value meets the target") {
    int ends = 0;
    for (const Case& input : {ski_lift(), ropeway_with_bead(),
                              ropeway_with_bead({"positions=2", "gate_path[2].inductance=11 nH"})}) {
        for (const auto& [edge, sizing] : check(input, plain()).gate_resistance)
            for (const Window& w : sizing.acceptable.windows) {
                if (w.low_bound != Bound::damping) continue;
                CHECK_RELATIVE(least_when_set(input, edge, w.low), input.require.differential_damping, 1e-5);
                ++ends;
            }
    }
    CHECK(ends >= 4);
}

TEST_CASE("with a bead that saturates the windows do not depend on the resistor that is fitted") {
    const CheckResult one = check(ropeway_with_bead(), plain()),
                      other = check(ropeway_with_bead({"gate_path.resistor=15 ohm"}), plain());
    for (const Edge edge : {Edge::turn_on, Edge::turn_off}) {
        const EdgeSizing &a = one.gate_resistance.at(edge), &b = other.gate_resistance.at(edge);
        REQUIRE(a.acceptable.windows.size() == b.acceptable.windows.size());
        REQUIRE(!a.acceptable.windows.empty());
        for (size_t k = 0; k < a.acceptable.windows.size(); ++k)
            CHECK_RELATIVE(a.acceptable.windows[k].low, b.acceptable.windows[k].low, 1e-5);
        CHECK(a.preferred_ohm == b.preferred_ohm);
    }
}

TEST_CASE("a gate current that the case gives at its points leaves every bound to be found") {
    const Case input = read_case(
        cases + "ropeway-first.yaml",
        {bead,
         "operation={bus_voltage: 800 V, load_current: 240 A, drive: {high: 18 V, low: -4 V}, points: "
         "[{name: fall, edge: turn_on, vds: 400 V, current: 240 A, complementary: blocking, "
         "gate_current: 1.5 A}]}"});
    const EdgeSizing sizing = check(input, plain()).gate_resistance.at(Edge::turn_on);
    CHECK(sizing.acceptable.complete);
    CHECK(sizing.acceptable.why_not_complete.empty());
}

TEST_CASE("with a bead that saturates `choose` names values that pass when they are set") {
    const Case input = ski_lift();
    int recommended = 0;
    for (const ChosenOption& o : choose(input).options) {
        if (!o.fitted || !o.passes) continue;
        CHECK(passes_when_set(input, o.edge, *o.preferred_ohm));
        CHECK_RELATIVE(*o.damping_ratio, least_when_set(input, o.edge, *o.preferred_ohm), 1e-9);
        ++recommended;
    }
    CHECK(recommended == 2);
}

TEST_CASE("with a bead that saturates the page's slider shows each value with its own bias") {
    const Case input = ski_lift();
    const CheckResult result = check(input, plain());
    for (const GateSweep& sweep : sweep_gate_resistors(input, result))
        for (size_t k = 0; k < sweep.values.size(); k += 12) {
            const SweptValue& value = sweep.values[k];
            CHECK(value.passes == passes_when_set(input, sweep.edge, value.ohm));
            REQUIRE(value.differential);
            CHECK_RELATIVE(value.differential->damping_ratio, least_when_set(input, sweep.edge, value.ohm),
                           1e-9);
        }
}

TEST_CASE("with a bead that saturates `size --vary` of a gate resistor judges each value with its own bias") {
    const Case input = ropeway_with_bead();
    const Acceptable varied = acceptable_values(input, {"gate_path.resistor.turn_off"}, {}).acceptable;
    CHECK(!varied.complete);
    REQUIRE(varied.windows.size() == 1);
    REQUIRE(varied.windows[0].low_bound == Bound::damping);
    CHECK_RELATIVE(least_when_set(input, Edge::turn_off, varied.windows[0].low),
                   input.require.differential_damping, 1e-5);
}

TEST_CASE("where the preferred value fails when it is judged, the next larger ones in the window are tried") {
    // A window that promises too much, as one found by sampling may.
    const Case input =
        read_case(cases + "ropeway-first.yaml", {"operation.path.steps=3", "require.common_damping=0"});
    const Window promised{1, 47, Bound::damping, Bound::limit, "", ""};
    const Preferred found = judged_preferred(input, Edge::turn_on, {promised}, 1.3, has_margin);
    CHECK(found.judged.passes);
    CHECK(passes_when_set(input, Edge::turn_on, found.ohm));
    CHECK(!passes_when_set(input, Edge::turn_on, found.ohm / 1.1));
    // With no value in the way's window passing, the first stays with its mode.
    const Window low{1, 5, Bound::damping, Bound::damping, "", ""};
    const Preferred none = judged_preferred(input, Edge::turn_on, {low}, 1.3, has_margin);
    CHECK(none.ohm == 1.3);
    CHECK(!none.judged.passes);
    REQUIRE(none.judged.in_the_way);
    CHECK(none.judged.in_the_way->mode.kind == ModeKind::differential);
}

TEST_CASE(
    "an uneven board on which the eigenvalues of the bounds did not converge has its verdict and windows") {
    const std::vector<std::vector<std::string>> boards{
        {"positions=3", "gate_path[1].inductance=8.2nH", "gate_path[2].inductance=11.9nH"},
        {"positions=3", "gate_path[1].inductance=10.9nH", "gate_path[2].inductance=10.9nH",
         "operation.path.steps=4"}};
    for (const auto& settings : boards) {
        const CheckResult result = check(read_case(cases + "ropeway-first.yaml", settings), plain());
        CHECK(result.verdict == Verdict::fail);
        for (const auto& [edge, sizing] : result.gate_resistance) {
            CHECK(sizing.acceptable.complete);
            CHECK(sizing.acceptable.pencil_order > 0);
            REQUIRE(sizing.preferred_ohm);
        }
    }
}

TEST_CASE("rounding does not shatter a window") {
    const Case noisy = case_text::read(gigohm_snubber),
               clean = case_text::read(gigohm_snubber, {"snubber.resistance=1e7 ohm"});
    const CheckResult with_noise = check(noisy, plain()), without = check(clean, plain());
    for (const Edge edge : {Edge::turn_on, Edge::turn_off}) {
        const EdgeSizing &a = with_noise.gate_resistance.at(edge), &b = without.gate_resistance.at(edge);
        REQUIRE(b.acceptable.windows.size() == 1);
        REQUIRE(a.acceptable.windows.size() == 1);
        CHECK_RELATIVE(a.acceptable.windows[0].low, b.acceptable.windows[0].low, 1e-3);
        CHECK(a.acceptable.windows[0].high_bound == Bound::limit);
    }
}

TEST_CASE("where the margin is within its uncertainty no bound is drawn, and the answer says so") {
    // A mode that swings about its target by rounding between 3 and 6, passes above and fails below.
    const auto damping = [](double value) {
        if (value < 3) return 0.05;
        if (value > 6) return 0.2;
        return 0.1 + 1e-5 * std::sin(1e4 * value);
    };
    Requirement require;
    require.differential_damping = 0.1;
    require.band_low_hz = 1;
    require.band_high_hz = 1e9;
    std::vector<double> candidates{3};
    for (int k = 1; k <= 40; ++k) candidates.push_back(3 + 3 * k / 40.0);
    for (const bool with_candidates : {true, false}) {
        CAPTURE(with_candidates);
        Search search;
        search.low = 0;
        search.high = 10;
        search.require = &require;
        search.point = "here";
        search.modes_at = [&](double value) {
            const double zeta = damping(value), w = 1e6;
            return std::vector<Mode>{
                {{-zeta * w, w * std::sqrt(1 - zeta * zeta)}, ModeKind::differential, 0, 1}};
        };
        search.uncertainty = [](double, const Mode&) { return 1e-4; };
        if (with_candidates) search.candidates = candidates;
        int evaluations = 0;
        const Searched found = search_windows(search, evaluations);
        REQUIRE(found.windows.size() == 1);
        CHECK(found.windows[0].low >= 3 * (1 - 1e-6));
        CHECK(found.windows[0].low <= 6 * (1 + 1e-6));
        CHECK(found.windows[0].high == 10);
        CHECK(found.complete == false);
        CHECK(evaluations < 200);
        if (with_candidates)
            CHECK(found.why_not_complete ==
                  "at \"here\" the damping differs from its target by less than its numerical uncertainty, "
                  "1.0e-04, over a range of values, in which no bound was drawn");
    }
}

TEST_CASE("a value whose numbers fail is not acceptable, and takes nothing else away") {
    Requirement require;
    require.differential_damping = 0.1;
    require.band_low_hz = 1;
    require.band_high_hz = 1e9;
    Search search;
    search.low = 0;
    search.high = 10;
    search.require = &require;
    search.point = "here";
    search.modes_at = [](double value) {
        if (value < 2) throw NumericalError("told from rounding");
        return std::vector<Mode>{{{-0.5e6, 1e6}, ModeKind::differential, 0, 1}};
    };
    int evaluations = 0;
    const Searched found = search_windows(search, evaluations);
    REQUIRE(found.windows.size() == 1);
    CHECK_RELATIVE(found.windows[0].low, 2.0, 1e-6);
    CHECK(found.why_not_complete == "at \"here\" some values could not be judged (told from rounding)");
}

TEST_CASE(
    "the eigenvalue iteration may begin again on a reflected matrix: eigenvalues and vectors are the same") {
    std::mt19937_64 random(7);
    std::uniform_real_distribution<double> entry(-1, 1);
    constexpr int n = 14;
    Eigen::MatrixXd a(n, n);
    for (int j = 0; j < n; ++j)
        for (int i = 0; i < n; ++i) a(i, j) = entry(random) * std::pow(10.0, (i - j) / 4.0);
    SmallEigen plain_one;
    plain_one.compute(a, false);
    for (int attempt = 1; attempt < 5; ++attempt) {
        CAPTURE(attempt);
        SmallEigen eigen;
        eigen.compute(a, true, attempt);
        REQUIRE(eigen.eigenvalues().size() == n);
        for (const auto& lambda : eigen.eigenvalues()) {
            double nearest = 1e9;
            for (const auto& known : plain_one.eigenvalues())
                nearest = std::min(nearest, std::abs(known - lambda));
            CHECK(nearest < 1e-10);
            const Eigen::VectorXcd x = eigen.eigenvector(lambda);
            CHECK((a * x - lambda * x).norm() < 1e-9 * a.norm());
        }
    }
}
