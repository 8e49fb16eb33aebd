// Tolerances, random numbers and statistics of `spread`, against closed forms and published values.
#include "ringquell/spread.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <functional>
#include <limits>
#include <nlohmann/json.hpp>

#include "case/sampled_case.h"
#include "case/tolerances.h"
#include "numerics/order_statistics.h"
#include "numerics/random_numbers.h"
#include "ringquell/acceptable.h"
#include "ringquell/check.h"
#include "ringquell/operating_path.h"
#include "ringquell/report.h"
#include "ringquell/write_case.h"
#include "sizing/e24.h"
#include "spread/sample_evaluator.h"
#include "spread/spread_state.h"
#include "support/case_text.h"
#include "support/relative.h"
#include "support/run_command.h"
#include "support/same_case.h"
#include "test_paths.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

#ifdef RINGQUELL_SANITIZED
constexpr std::int64_t some = 150;
#else
constexpr std::int64_t some = 1500;
#endif

Case demonstration(const std::string& name, std::vector<std::string> settings = {}) {
    settings.push_back("spread=typical");
    settings.push_back("operation.path.steps=3");
    return read_case(std::string(RINGQUELL_CASES) + "/" + name + ".yaml", settings);
}

std::string with_spread(const std::string& spread) {
    return case_text::base + "spread:\n" + spread;
}

/// Largest distance between the values' distribution and `cdf`, times √n: above 1.63 once in a hundred
/// (Kolmogorov; Smirnov 1948, from memory).
double kolmogorov(std::vector<double> values, const std::function<double(double)>& cdf) {
    std::sort(values.begin(), values.end());
    const auto n = static_cast<double>(values.size());
    double most = 0;
    for (size_t i = 0; i < values.size(); ++i) {
        const double p = cdf(values[i]);
        most = std::max({most, p - static_cast<double>(i) / n, static_cast<double>(i + 1) / n - p});
    }
    return most * std::sqrt(n);
}

/// The first position's gate inductance over samples.
std::vector<double> gate_inductances(const std::string& spread, int samples, std::uint64_t seed,
                                     size_t position = 0) {
    const SampleSpace space(case_text::read(with_spread(spread)));
    SampledCase sampled(space);
    std::vector<double> u(space.draws().size()), out;
    for (int k = 0; k < samples; ++k) {
        space.uniforms(seed, static_cast<std::uint64_t>(k), 0, u.data());
        sampled.set(u.data());
        out.push_back(sampled.input().positions[position].gate_path.inductance_h);
    }
    return out;
}

}  // namespace

TEST_CASE("Philox gives the words of its authors' test vectors (from memory)") {
    using Words = std::array<std::uint32_t, 4>;
    CHECK(philox({0, 0, 0, 0}, {0, 0}) == Words{0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8});
    const std::uint32_t ones = 0xffffffff;
    CHECK(philox({ones, ones, ones, ones}, {ones, ones}) ==
          Words{0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd});
    CHECK(philox({0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344}, {0xa4093822, 0x299f31d0}) ==
          Words{0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1});
}

TEST_CASE("the normal distribution and its inverse are Boost.Math's") {
    const boost::math::normal normal;
    for (double z = -6; z <= 6; z += 0.37) CHECK(std::abs(normal_probability(z) - cdf(normal, z)) < 1e-14);
    for (double p = 0.001; p < 1; p += 0.0173)
        CHECK(std::abs(normal_quantile(p) - quantile(normal, p)) < 1e-12);
}

TEST_CASE("a uniform tolerance is uniform, and a normal one has its bounds at three sigma") {
    const auto uniform = gate_inductances("  gate_path.inductance: {tolerance: 20 %}\n", 4000, 11);
    CHECK(kolmogorov(uniform, [](double x) { return (x / 7e-9 - 0.8) / 0.4; }) < 1.63);
    CHECK(*std::min_element(uniform.begin(), uniform.end()) >= 5.6e-9);
    CHECK(*std::max_element(uniform.begin(), uniform.end()) <= 8.4e-9);
    const auto normal =
        gate_inductances("  gate_path.inductance: {tolerance: 1.5 nH, distribution: normal}\n", 4000, 11);
    const boost::math::normal of(7e-9, 0.5e-9);
    const double below = cdf(of, 5.5e-9);
    CHECK(kolmogorov(normal, [&](double x) { return (cdf(of, x) - below) / (1 - 2 * below); }) < 1.63);
    CHECK(*std::min_element(normal.begin(), normal.end()) >= 5.5e-9);
}

TEST_CASE("positions vary apart, a batch together, and a correlation is what was asked") {
    const std::string position = "  gate_path.inductance: {tolerance: 20 %}\n",
                      batch = "  gate_path.inductance: {tolerance: 20 %, vary: batch}\n";
    CHECK(gate_inductances(position, 5, 3, 0) != gate_inductances(position, 5, 3, 1));
    CHECK(gate_inductances(batch, 5, 3, 0) == gate_inductances(batch, 5, 3, 1));
    const SampleSpace space(case_text::read(
        with_spread("  gate_path.inductance: {tolerance: 20 %, vary: batch}\n"
                    "  kelvin_path.inductance: {tolerance: 20 %, vary: batch, correlation: {with: "
                    "gate_path.inductance, coefficient: 0.8}}\n")));
    REQUIRE(space.draws().size() == 2);
    double xy = 0, xx = 0, yy = 0;
    constexpr int samples = 4000;
    for (int k = 0; k < samples; ++k) {
        double u[2];
        space.uniforms(5, static_cast<std::uint64_t>(k), 0, u);
        const double x = normal_quantile(u[0]), y = normal_quantile(u[1]);
        xy += x * y;
        xx += x * x;
        yy += y * y;
    }
    CHECK(std::abs(xy / std::sqrt(xx * yy) - 0.8) < 3 * (1 - 0.64) / std::sqrt(samples));
}

TEST_CASE("a sample's inputs depend on seed and number alone") {
    const SampleSpace space(demonstration("ropeway-cured"));
    std::vector<double> a(space.draws().size()), b = a, other = a;
    space.uniforms(1, 4711, 0, a.data());
    for (std::uint64_t k = 0; k < 5; ++k) space.uniforms(1, k, 0, b.data());
    space.uniforms(1, 4711, 0, b.data());
    CHECK(a == b);
    space.uniforms(2, 4711, 0, other.data());
    CHECK(a != other);
    // Another tolerance in the case leaves the numbers of the others as they are.
    const SampleSpace one(case_text::read(with_spread("  gate_path.inductance: {tolerance: 20 %}\n")));
    const SampleSpace two(case_text::read(with_spread(
        "  gate_path.inductance: {tolerance: 20 %}\n  kelvin_path.inductance: {tolerance: 20 %}\n")));
    std::vector<double> u1(one.draws().size()), u2(two.draws().size());
    one.uniforms(1, 9, 0, u1.data());
    two.uniforms(1, 9, 0, u2.data());
    CHECK(std::equal(u1.begin(), u1.end(), u2.begin()));
}

TEST_CASE("59 samples bound 95/95, and the Clopper–Pearson bound covers in repeated small runs") {
    // Orders 1 to 3: Wilks, Ann. Math. Stat. 12 (1941) 91; 59 read, the others from memory.
    CHECK(wilks_samples(0.95, 0.95) == 59);
    CHECK(wilks_samples(0.95, 0.95, 2) == 93);
    CHECK(wilks_samples(0.95, 0.95, 3) == 124);
    // 3 of 15, one-sided: SciPy, docstring of binomtest; 682 of 925, two-sided 95 %: R, binom.test (from
    // memory).
    CHECK_RELATIVE(share_lower_bound(15, 3, 0.95), 0.0568468675902, 1e-11);
    CHECK_RELATIVE(share_lower_bound(925, 682, 0.975), 0.7076683, 1e-7);
    CHECK_RELATIVE(share_upper_bound(925, 682, 0.975), 0.7654066, 1e-7);
    // All of n passed: the bound is 0.05^(1/n).
    CHECK_RELATIVE(share_lower_bound(59, 59, 0.95), std::pow(0.05, 1.0 / 59), 1e-12);
    CHECK(share_lower_bound(20, 0, 0.95) == 0);
    constexpr int runs = 2000, n = 40;
    constexpr double p = 0.9;
    int covered = 0;
    for (int run = 0; run < runs; ++run) {
        int passed = 0;
        for (int k = 0; k < n; ++k)
            passed += uniform_number(
                          {3, static_cast<std::uint64_t>(run), 0, 77, static_cast<std::uint32_t>(k)}) < p;
        covered += share_lower_bound(n, passed, 0.95) <= p;
    }
    CHECK(covered >= 0.95 * runs - 3 * std::sqrt(runs * 0.05 * 0.95));
}

TEST_CASE("quantile bounds by order statistics hold as often as they say") {
    constexpr int runs = 1500, n = 200;
    int low = 0, high = 0;
    const auto lower = quantile_lower_rank(n, 0.05, 0.95), upper = quantile_upper_rank(n, 0.05, 0.95);
    REQUIRE(lower);
    REQUIRE(upper);
    for (int run = 0; run < runs; ++run) {
        std::vector<double> x;
        for (int k = 0; k < n; ++k)
            x.push_back(
                uniform_number({4, static_cast<std::uint64_t>(run), 0, 78, static_cast<std::uint32_t>(k)}));
        std::sort(x.begin(), x.end());
        low += x[static_cast<size_t>(*lower) - 1] <= 0.05;
        high += x[static_cast<size_t>(*upper) - 1] >= 0.05;
    }
    CHECK(low >= 0.95 * runs - 3 * std::sqrt(runs * 0.05 * 0.95));
    CHECK(high >= 0.95 * runs - 3 * std::sqrt(runs * 0.05 * 0.95));
    CHECK(!quantile_lower_rank(20, 0.05, 0.95));
}

TEST_CASE("shares of the variance are those of a sum, and its quantiles those of its distribution") {
    // Damping 0.1 + 0.02·(u₁ + 2·u₂): variances 1 to 4, the third draw without influence.
    const SampleSpace space(
        case_text::read(with_spread("  gate_path.inductance: {tolerance: 20 %, vary: batch}\n"
                                    "  kelvin_path.inductance: {tolerance: 20 %, vary: batch}\n"
                                    "  driver.pull_up_resistance: {tolerance: 20 %}\n")));
    REQUIRE(space.draws().size() == 3);
    SpreadState state(3);
    for (std::uint64_t k = 0; k < 20000; ++k) {
        double u[3];
        space.uniforms(8, k, 0, u);
        SampleOutcome o;
        o.damping_ratio = 0.1 + 0.02 * (u[0] + 2 * u[1]);
        o.passes = true;
        state.add(o, u, space.input().require);
    }
    SpreadResult result;
    state.fill(result, space);
    REQUIRE(result.matters.size() == 3);
    CHECK(result.matters[0].key == "kelvin_path.inductance");
    CHECK(std::abs(result.matters[0].share - 0.8) < 0.02);
    CHECK(std::abs(result.matters[1].share - 0.2) < 0.02);
    CHECK(std::abs(result.matters[2].share) < 0.005);
    for (const SpreadShare& s : result.matters) CHECK(s.error < 0.01);
    // Below u₁ + 2u₂ = 1 the distribution is x²/4.
    for (const SpreadQuantile& q : result.quantiles)
        if (q.p <= 0.05) CHECK(std::abs(q.damping_ratio - (0.1 + 0.02 * std::sqrt(4 * q.p))) < 4e-4);
}

TEST_CASE("one thread or two, at once or in two parts: the same result, byte for byte") {
    const Case input = demonstration("ropeway-cured");
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
    const SpreadResult result = spread(demonstration("ropeway-cured"), options);
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
    const Case input = demonstration("ropeway-cured");
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
    const Case input = demonstration("ropeway-cured");
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

TEST_CASE("spread passes where the share's lower bound and the worst of the first samples both hold") {
    SpreadResult r;
    const auto with = [&](std::int64_t samples, std::int64_t passed, std::int64_t lost) {
        r.samples = r.asked = samples;
        r.passed = passed;
        r.first = std::min(samples, samples_for_worst);
        r.kept_of_first = r.first - lost;
        r.samples_needed = wilks_samples(r.require.pass_share, 0.95, 1);
        r.lower_bound_95 = share_lower_bound(samples, passed, 0.95);
        return r.verdict();
    };
    const auto first_line = [&] {
        const std::string text = spread_text(r, {}, {}, "");
        return text.substr(0, text.find('\n'));
    };
    // 0.99^298 > 0.05 > 0.99^299
    CHECK(wilks_samples(0.99, 0.95, 1) == 299);
    CHECK(with(299, 299, 0) == Verdict::pass);
    CHECK(first_line() == "PASS: 0 positions, 299 samples of seed 0");
    CHECK(with(298, 298, 0) == Verdict::undecided);
    CHECK(first_line() ==
          "UNDECIDED: 0 positions, 298 samples of seed 0; 299 samples are needed to show that 99 % pass");
    CHECK(with(299, 298, 0) == Verdict::fail);
    CHECK(first_line() == "FAIL: 0 positions, 299 samples of seed 0; at least 98.42 % pass, not 99 %");
    CHECK(with(100, 99, 1) == Verdict::fail);
    CHECK(
        first_line() ==
        "FAIL: 0 positions, 100 samples of seed 0; 1 of the first 100 samples do not keep a damping ratio of "
        "0.03; 299 samples are needed to show that 99 % pass");
    CHECK(with(10000, 10000, 2) == Verdict::fail);
    CHECK(first_line() ==
          "FAIL: 0 positions, 10000 samples of seed 0; 2 of the first 10000 samples do not keep a damping "
          "ratio "
          "of 0.03");
    r.require.pass_share = 0.9;
    CHECK(with(29, 29, 0) == Verdict::pass);
    CHECK(with(28, 28, 0) == Verdict::undecided);
}

TEST_CASE("of more than ten thousand samples the worst is taken of the first ten thousand") {
    const SampleSpace space(case_text::read(with_spread("  gate_path.inductance: {tolerance: 20 %}\n")));
    SpreadState state(space.draws().size());
    std::vector<double> u(space.draws().size(), 0.5);
    const auto add = [&](double damping) {
        SampleOutcome o;
        o.damping_ratio = damping;
        o.passes = true;
        state.add(o, u.data(), space.input().require);
    };
    for (int k = 0; k < 10000; ++k) add(0.2);
    add(0.01);
    SpreadResult result;
    state.fill(result, space);
    CHECK(result.samples == 10001);
    CHECK(result.kept == 10000);
    CHECK(result.first == 10000);
    CHECK(result.kept_of_first == 10000);
    CHECK(result.keeps());
    CHECK(result.verdict() == Verdict::pass);
}

TEST_CASE("samples are judged with the passive damping and the gain margin that the case asks for") {
    constexpr int samples = 24;
    const auto passed = [](const std::vector<std::string>& settings) {
        const Case input = case_text::read(
            with_spread("  device.channel.transconductance: {tolerance: 20 %, vary: position}\n"), settings);
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

TEST_CASE("a share of boards that no number of samples can show is refused") {
    const auto error = [](const std::string& value) {
        return case_text::error_of(case_text::replaced(case_text::base, "damping: 0.1}",
                                                       "damping: 0.1, pass_share: " + value + "}"));
    };
    CHECK(case_text::contains(error("100 %"),
                              "require.pass_share: found `100 %`, expected a share below 1: no number of "
                              "samples can show that all pass"));
    CHECK(error("98 %").empty());
}

TEST_CASE("tolerances that cannot be are refused by key, with what was found") {
    const auto error = [](const std::string& spread) { return case_text::error_of(with_spread(spread)); };
    CHECK(case_text::contains(error("  gate_path.inductanc: {tolerance: 20 %}\n"),
                              "did you mean `gate_path.inductance`?"));
    CHECK(case_text::contains(error("  gate_path.inductance: {tolerance: 110 %}\n"),
                              "leaves the value above zero"));
    CHECK(case_text::contains(error("  power_loop.inductance: {tolerance: 5 %, vary: position}\n"),
                              "all positions share this; expected `vary: batch`"));
    CHECK(case_text::contains(error("  gate_path.inductance: {tolerance: 5 pF}\n"), "unit of a capacitance"));
    CHECK(case_text::contains(error("  require.differential_damping: {tolerance: 5 %}\n"),
                              "not a part that varies"));
    CHECK(case_text::contains(error("  gate_path.inductance: {tolerance: 5 %, correlation: {with: "
                                    "kelvin_path.inductance, coefficient: 0.5}}\n"),
                              "has no tolerance"));
    CHECK(case_text::contains(error("  gate_path.inductance: {}\n"), "tolerance"));
}

TEST_CASE("spread writes its files whole, ends with a status, and says what a slip was") {
    Folder folder;
    const std::string file = std::string(RINGQUELL_CASES) + "/ropeway-cured.yaml";
    const std::string arguments =
        "spread " + file + " --set spread=typical --set operation.path.steps=2 --samples 60 --no-resistor";
    const Ran first =
        run(arguments + " --csv rows.csv --checkpoint state.json --json -", folder.path.string());
    const auto json = nlohmann::json::parse(first.out);
    CHECK(first.err.empty());
    CHECK(json["samples"] == 60);
    CHECK(json["pass_share"] == json["passed"].get<double>() / 60);
    CHECK(json["worst"]["case"] == "ropeway-cured-worst.yaml");
    // All 60 keep the worst damping, but 60 show nothing of 99 %.
    CHECK(json["kept"] == 60);
    CHECK(json["verdict"] == "undecided");
    CHECK(json["samples_needed"] == 299);
    CHECK(first.status == 3);
    CHECK(folder.entries() == 3);
    const std::string rows = content(folder / "rows.csv");
    CHECK(std::count(rows.begin(), rows.end(), '\n') == 61);
    const Ran worst = run("check ropeway-cured-worst.yaml --json -", folder.path.string());
    CHECK_RELATIVE(nlohmann::json::parse(worst.out)["worst"]["differential"]["damping_ratio"].get<double>(),
                   json["worst"]["damping_ratio"].get<double>(), 1e-9);
    const Ran without = run("spread " + file, folder.path.string());
    CHECK(without.status == 2);
    CHECK(case_text::contains(without.err, "expected `spread: typical` or tolerances of your own"));
    CHECK(run(arguments + " --resume none.json", folder.path.string()).status == 2);
}
