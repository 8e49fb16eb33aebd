// What samples come to: shares of the variance, quantiles, and the verdict by counts.
#include "spread/spread_state.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <string>
#include <vector>

#include "case/sample_space.h"
#include "numerics/order_statistics.h"
#include "ringquell/report.h"
#include "ringquell/spread.h"
#include "support/case_text.h"

using namespace ringquell;
using namespace ringquell::internal;

TEST_CASE("shares of the variance are those of a sum, and its quantiles those of its distribution") {
    // Damping 0.1 + 0.02·(u₁ + 2·u₂): variances 1 to 4, the third draw without influence.
    const SampleSpace space(
        case_text::read(case_text::with_spread("  gate_path.inductance: {tolerance: 20 %, vary: batch}\n"
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

TEST_CASE("of more than ten thousand samples the worst is taken of the first ten thousand") {
    const SampleSpace space(
        case_text::read(case_text::with_spread("  gate_path.inductance: {tolerance: 20 %}\n")));
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
