// `spread` as a whole: the same result in any number of threads and parts; its worst sample, resistances and
// corners against whole solutions.
#include "ringquell/spread.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <functional>
#include <limits>
#include <string>
#include <vector>

#include "case/sampled_case.h"
#include "ringquell/acceptable.h"
#include "ringquell/check.h"
#include "ringquell/operating_path.h"
#include "ringquell/report.h"
#include "ringquell/write_case.h"
#include "sizing/e24.h"
#include "spread/sample_evaluator.h"
#include "support/case_text.h"
#include "support/files.h"
#include "support/relative.h"
#include "support/same_case.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

#ifdef RINGQUELL_SANITIZED
constexpr std::int64_t some = 150;
#else
constexpr std::int64_t some = 1500;
#endif

Case with_typical_spread(const std::string& name, std::vector<std::string> settings = {}) {
    settings.push_back("spread=typical");
    settings.push_back("operation.path.steps=3");
    return test_files::demonstration(name, settings);
}

}  // namespace

TEST_CASE("one thread or two, at once or in two parts: the same result, byte for byte") {
    const Case input = with_typical_spread("ropeway-cured");
    std::string checkpoint;
    const auto run = [&](int threads, std::int64_t samples, const std::string& resume) {
        SpreadOptions options;
        options.samples = samples;
        options.threads = threads;
        options.resume = resume;
        options.checkpoint = [&](const std::string& text) { checkpoint = text; };
        SpreadResult out = spread(input, options);
        out.seconds = 0;
        return spread_json(out, {}, {}, "") + (out.worst_case ? write_case(*out.worst_case) : "");
    };
    const std::string once = run(1, some, "");
    CHECK(run(2, some, "") == once);
    run(2, some / 3, "");
    const std::string part = checkpoint;
    CHECK(run(1, some, part) == once);
    SpreadOptions other;
    other.samples = some;
    other.seed = 2;
    other.resume = part;
    CHECK_THROWS_WITH_AS(spread(input, other), "--resume: is a checkpoint of another seed", InputError);
    other.resume = "{";
    CHECK_THROWS_WITH_AS(spread(input, other), "--resume: is no checkpoint of `spread`", InputError);
}

TEST_CASE("the worst sample, written as a case and read again, is what check finds") {
    SpreadOptions options;
    options.samples = some;
    double least = 2;
    options.each = [&](std::int64_t, const SampleOutcome& o) { least = std::min(least, o.damping_ratio); };
    const SpreadResult result = spread(with_typical_spread("ropeway-cured"), options);
    REQUIRE(result.worst_case);
    CHECK_RELATIVE(result.worst.damping_ratio, least, 1e-8);
    const Case again = read_case_text(write_case(*result.worst_case), "worst.yaml");
    CHECK(same_case(again, *result.worst_case));
    CheckOptions plain;
    plain.size_gate_resistor = plain.follow_modes = false;
    const CheckResult checked = check(again, plain);
    REQUIRE(checked.worst_differential);
    CHECK_RELATIVE(checked.worst_differential->mode.damping_ratio(), result.worst.damping_ratio, 1e-12);
    CHECK(checked.points[checked.worst_differential->point].point.name == result.worst_point);
}

TEST_CASE("the gate resistance for 99 % makes as many pass, and the E24 value below it does not") {
    const Case input = with_typical_spread("ropeway-cured");
    constexpr std::int64_t samples = 200;
    const ResistanceForShare found = resistance_for_share(input, Edge::turn_off, 0.99, samples, 1, 2);
    REQUIRE(found.ohm);
    CHECK(found.share >= 0.99);
    // The same count by whole samples, of a case that has this edge alone.
    const auto share = [&](double ohm) {
        Case fitted = input;
        fit_gate_resistor(fitted, Edge::turn_off, ohm);
        fitted.require.common_damping.reset();
        const SampleSpace space(fitted);
        SampledCase sampled(space);
        std::vector<double> u(space.draws().size());
        std::int64_t passed = 0;
        for (std::int64_t k = 0; k < samples; ++k) {
            space.uniforms(1, static_cast<std::uint64_t>(k), 0, u.data());
            sampled.set(u.data());
            ModeSolver solver(sampled.input());
            bool misses_some = false;
            for (const OperatingPoint& point : operating_path(sampled.input()).points)
                if (point.edge == Edge::turn_off)
                    for (const Mode& m : solver.solve(point).modes)
                        misses_some = misses_some || misses(m, sampled.input().require);
            passed += !misses_some;
        }
        return static_cast<double>(passed) / static_cast<double>(samples);
    };
    CHECK(share(*found.ohm) == found.share);
    REQUIRE(*found.ohm > 1);
    CHECK(share(e24_at_least(*found.ohm / 1.12)) < 0.99);
}

TEST_CASE("corners are judged at the ends of the tolerances that matter") {
    const Case input = with_typical_spread("ropeway-cured");
    SpreadOptions options;
    options.samples = some;
    const SpreadResult result = spread(input, options);
    const Corners c = corners(input, result);
    REQUIRE(c.keys.size() == 5);
    CHECK(c.keys.front() == result.matters.front().key);
    CHECK(c.worst_of_grid <= c.worst_corner);
    CHECK(c.worst_inside == (c.worst_of_grid < c.worst_corner));
    // The same corner as a case of its own. A number that several positions share has one name for both of
    // its tolerances, its own and its batch's: then either may be the one that is meant.
    const SampleSpace space(input);
    SampledCase sampled(space);
    std::vector<std::vector<size_t>> named(c.keys.size());
    for (size_t d = 0; d < c.keys.size(); ++d)
        for (size_t k = 0; k < space.draws().size(); ++k)
            if (space.label(space.draws()[k]) == c.keys[d]) named[d].push_back(k);
    double nearest = std::numeric_limits<double>::infinity();
    std::vector<double> u(space.draws().size(), 0.5);
    const std::function<void(size_t)> choose = [&](size_t d) {
        if (d == named.size()) {
            sampled.set(u.data());
            nearest = std::min(
                nearest, relative_difference(judge_sample(sampled.input()).damping_ratio, c.worst_corner));
            return;
        }
        for (const size_t k : named[d]) {
            if (u[k] != 0.5) continue;  // taken by another key of the corner
            u[k] = 0.5 + 0.5 * c.at[d] * (1 - 2e-12);
            choose(d + 1);
            u[k] = 0.5;
        }
    };
    choose(0);
    CHECK(nearest <= 1e-8);
}

TEST_CASE("samples are judged with the passive damping and the gain margin that the case asks for") {
    constexpr int samples = 24;
    const auto passed = [](const std::vector<std::string>& settings) {
        const Case input = case_text::read(
            case_text::with_spread("  device.channel.transconductance: {tolerance: 20 %, vary: position}\n"),
            settings);
        SpreadOptions options;
        options.samples = samples;
        std::vector<bool> passes;
        options.each = [&](std::int64_t, const SampleOutcome& o) { passes.push_back(o.passes); };
        const SpreadResult result = spread(input, options);
        const bool asks_of_gain = input.require.passive_damping || input.require.gain_margin;
        CHECK(result.one_by_one == (asks_of_gain ? samples : 0));
        // The same samples as cases of their own.
        const SampleSpace space(input);
        SampledCase sampled(space);
        std::vector<double> u(space.draws().size());
        for (int k = 0; k < samples; ++k) {
            space.uniforms(1, static_cast<std::uint64_t>(k), 0, u.data());
            sampled.set(u.data());
            CheckOptions plain;
            plain.size_gate_resistor = plain.follow_modes = plain.gain_margin = false;
            CHECK(passes[static_cast<size_t>(k)] == (check(sampled.input(), plain).verdict == Verdict::pass));
        }
        return result.passed;
    };
    // Little gain: every loop rings with some 0.12 by itself.
    const std::string little = "device.channel.transconductance=0.5 S",
                      strict = "require.differential_damping=0.2";
    CHECK(passed({little, strict}) == 0);
    CHECK(passed({little, strict, "require.passive_damping=0.02"}) == samples);
    // The gain may rise 2.1 times.
    const std::vector<std::string> nominal{"device.channel.transconductance=5 S", "gate_path.resistor=2 ohm",
                                           "require.differential_damping=0.01"};
    std::vector<std::string> more = nominal;
    more.emplace_back("require.gain_margin=2.1");
    CHECK(passed(nominal) == samples);
    CHECK(passed(more) > 0);
    CHECK(passed(more) < samples);
}

TEST_CASE("what is judged in passing decides, though no sample is judged by it, and is always said") {
    SpreadOptions options;
    options.samples = 20;
    const auto at_rate = [&](const std::vector<std::string>& settings) {
        return spread(with_typical_spread("tunnel-fan-cascode", settings), options);
    };
    const SpreadResult quick = at_rate({});
    REQUIRE(!quick.passages.empty());
    CHECK(quick.passes_in_passing());
    CHECK(quick.verdict() == Verdict::undecided);  // 20 samples are too few
    // The case's own header: a slow drive stays where both dice are saturated.
    const SpreadResult slow = at_rate({"operation.drive.fall=1us"});
    CHECK(slow.keeps());
    CHECK(!slow.passes_in_passing());
    CHECK(slow.verdict() == Verdict::fail);
    for (const bool quiet : {false, true}) {
        const std::string text = spread_text(slow, {}, {}, "", quiet);
        CHECK(text.find("FAIL") == 0);
        CHECK(text.find("the board as it stands grows too much in passing") != std::string::npos);
        CHECK(text.find("passage of turn-off") != std::string::npos);
        CHECK(spread_text(quick, {}, {}, "", quiet).find("Stages judged in passing are in no sample") !=
              std::string::npos);
    }
}
