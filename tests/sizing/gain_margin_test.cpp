// By how much all gains may rise: against closed forms of oscillators (docs/checks.md), and against a scan.
#include "ringquell/gain_margin.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "ringquell/check.h"
#include "ringquell/operating_path.h"
#include "ringquell/read_case.h"
#include "ringquell/report.h"
#include "support/case_text.h"
#include "support/oscillators.h"
#include "support/random_case.h"
#include "support/relative.h"
#include "test_paths.h"

using namespace ringquell;

namespace {

constexpr double printed = 3e-6;

/// Check 3 of the published values (laws/published_checks_test.cpp): starts at gm·R = C2/C1.
std::string colpitts(double transconductance_s) {
    return oscillators::colpitts(1e-6, 300e-12, 100e-12, transconductance_s, 1e3);
}

/// Check 4: starts at gm·R = L1/L2. The gain stands at a node without capacitance.
std::string hartley(double transconductance_s) {
    return oscillators::hartley(1e-6, 2e-6, 100e-12, transconductance_s, 1e3);
}

CheckResult checked(const std::string& text, const std::vector<std::string>& settings = {},
                    Method method = Method::automatic) {
    const Case input = read_case_text(text, "gain.yaml", settings);
    CheckOptions options;
    options.size_gate_resistor = options.follow_modes = false;
    options.method = method;
    return check(input, options);
}

GainMargin margin_of(const std::string& text) {
    const CheckResult result = checked(text);
    REQUIRE(result.gain_margin);
    return *result.gain_margin;
}

}  // namespace

TEST_CASE("the gain margin of a Colpitts oscillator is the textbook's threshold over its gm") {
    // gm·R = 3 with 1 kohm.
    for (const double gm : {0.4e-3, 1e-3, 2.5e-3}) {
        const GainMargin g = margin_of(colpitts(gm));
        CHECK(!g.grows_now);
        CHECK(g.complete);
        REQUIRE(g.onset);
        CHECK_RELATIVE(g.onset->factor, 3e-3 / gm, 1e-6);
        CHECK_RELATIVE(g.onset->mode.natural_frequency_hz(), 18.3776e6, 1e-4);
    }
}

TEST_CASE("what grows already tells how far its gain must fall") {
    const CheckResult result = checked(colpitts(6e-3));
    REQUIRE(result.gain_margin);
    CHECK(result.gain_margin->grows_now);
    REQUIRE(result.gain_margin->onset);
    CHECK_RELATIVE(result.gain_margin->onset->factor, 0.5, 1e-6);
    CHECK(case_text::contains(
        check_text(result),
        "Gain margin: 0.5: the gain must fall by 50 % (a differential mode, 18.38 MHz, at "
        "\"here\" ceases to grow last)\n"));
    CHECK_RELATIVE(nlohmann::json::parse(check_json(result))["gain_margin"].get<double>(), 0.5, 1e-6);
}

TEST_CASE(
    "the gain margin of a Hartley oscillator, whose pencil is not affine in the gain, is found on a grid") {
    const GainMargin above = margin_of(hartley(0.2e-3)), below = margin_of(hartley(0.8e-3));
    REQUIRE(above.onset);
    REQUIRE(below.onset);
    CHECK_RELATIVE(above.onset->factor, 2.5, 1e-5);
    CHECK_RELATIVE(below.onset->factor, 0.625, 1e-5);
    CHECK_RELATIVE(above.onset->mode.natural_frequency_hz(), 9.18881e6, 1e-4);
}

TEST_CASE("a cascode's follower has the gain margin of the closed form, above the band told apart") {
    // Rg·(Cgs + CL)/(Lg·gm) = 2.5
    const double ohm = 2.5 * 0.5 * 10e-9 / 1.2e-9;
    const GainMargin g = margin_of(oscillators::follower(ohm, 0.5));
    REQUIRE(g.onset);
    CHECK_RELATIVE(g.onset->factor, 2.5, 1e-6);
    CHECK_RELATIVE(g.onset->mode.natural_frequency_hz(), 123.281e6, 1e-4);
    CHECK(!g.onset_in_band);
    // A growing pair of larger gain is slower and slower: at some gain it comes into a band below.
    const CheckResult result = checked(oscillators::follower(ohm, 0.5, "[1 kHz, 100 MHz]"));
    REQUIRE(result.gain_margin);
    const GainMargin& told = *result.gain_margin;
    REQUIRE(told.onset);
    CHECK_RELATIVE(told.onset->factor, 2.5, 1e-6);
    CHECK(told.onset->mode.natural_frequency_hz() > 100e6);
    CHECK(case_text::contains(check_text(result), "That growth begins above the band"));
}

TEST_CASE("without gain nothing can grow: null in JSON, beyond 100 in words") {
    const CheckResult result = checked(colpitts(0));
    REQUIRE(result.gain_margin);
    CHECK(!result.gain_margin->onset);
    CHECK(result.gain_margin->complete);
    CHECK(case_text::contains(check_text(result), "Gain margin: > 100\n"));
    CHECK(nlohmann::json::parse(check_json(result)).at("gain_margin").is_null());
    CHECK(!margin_of(colpitts(0.02e-3)).onset);  // 150
    CHECK(margin_of(colpitts(0.04e-3)).onset);   // 75
}

TEST_CASE("a case that asks for more gain margin than there is fails") {
    const std::string settings = "require.differential_damping=1e-6";
    const CheckResult passes = checked(colpitts(1e-3), {settings, "require.gain_margin=2.9"});
    CHECK(passes.verdict == Verdict::pass);
    const CheckResult fails = checked(colpitts(1e-3), {settings, "require.gain_margin=3.1"});
    CHECK(fails.verdict == Verdict::fail);
    CHECK(fails.growing.empty());
    REQUIRE(fails.grows_at_required_gain);
    CHECK(case_text::contains(
        check_text(fails),
        "With all gains 3.1 times as large (require.gain_margin) a differential mode, 18.38 MHz, at "
        "\"here\" grows.\n"));
}

TEST_CASE("by blocks and as a whole the margin is the same, and no gain on a scan below it grows") {
    random_case::Generator generator(16);
    int bounded = 0;
    for (int k = 0; k < 25; ++k) {
        CAPTURE(k);
        const Case input = generator.raw({2 + k % 2, k % 3 != 0, true});
        CheckOptions options;
        options.size_gate_resistor = options.follow_modes = false;
        const CheckResult result = check(input, options);
        REQUIRE(result.gain_margin);
        const GainMargin& g = *result.gain_margin;
        const auto factor = [](const GainMargin& m) { return m.onset ? m.onset->factor : 1e3; };
        options.method = Method::whole;
        const CheckResult whole = check(input, options);
        REQUIRE(whole.gain_margin);
        CHECK_RELATIVE(factor(*whole.gain_margin), factor(g), 1e-5);
        ModeSolver solver(input);
        const auto grows_at = [&](double m) { return grows_with_gain(solver, result.points, m).has_value(); };
        if (g.grows_now) {
            CHECK(grows_at(1));
            if (g.onset->factor > 1e-3) CHECK(!grows_at(g.onset->factor * (1 - 1e-5)));
            continue;
        }
        const double end = std::min(factor(g), largest_gain_factor);
        for (double m = 1; m < end * (1 - 1e-5); m *= 1.13) CHECK(!grows_at(m));
        if (!g.onset) continue;
        ++bounded;
        CHECK(!grows_at(g.onset->factor * (1 - 1e-5)));
        CHECK(grows_at(g.onset->factor * (1 + 1e-4)));
    }
    CHECK(bounded > 3);
}

TEST_CASE("where nearly all gain must go the end is as close as elsewhere") {
    const Case input = read_case(std::string(RINGQUELL_TEST_DATA) + "/gain-near-zero.yaml");
    CheckOptions options;
    options.size_gate_resistor = options.follow_modes = false;
    const CheckResult result = check(input, options);
    REQUIRE(result.gain_margin);
    REQUIRE(result.gain_margin->grows_now);
    const double end = result.gain_margin->onset->factor;
    CHECK(end > 0.007);
    CHECK(end < 0.008);
    ModeSolver solver(input);
    CHECK(grows_with_gain(solver, result.points, end * (1 + 1e-5)));
    CHECK(!grows_with_gain(solver, result.points, end * (1 - 1e-5)));
}

TEST_CASE("many uneven positions have no gain margin sought unless the case asks for it, and that is said") {
    std::string text = case_text::replaced(case_text::base, "positions: 3", "positions: 16");
    text += "overrides: [{position: 2, gate_path: {inductance: 8 nH}}]\n";
    const CheckResult result = checked(text);
    REQUIRE(result.gain_margin);
    CHECK(result.gain_margin->left_out ==
          "of many uneven positions it takes long; `require.gain_margin` asks for it");
    CHECK(!nlohmann::json::parse(check_json(result)).contains("gain_margin"));
    CHECK(case_text::contains(check_text(result), "Gain margin: not sought (of many uneven positions"));
}

TEST_CASE("a gain margin below 1 is an error") {
    CHECK(case_text::contains(case_text::error_of(case_text::replaced(case_text::base, "damping: 0.1}",
                                                                      "damping: 0.1, gain_margin: 0.5}")),
                              "require.gain_margin: found `0.5`, expected a factor of 1 or more"));
}
