// What samples are drawn: distributions, what varies together, correlations, and that they depend on seed and
// number alone.
#include "case/sample_space.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "case/sampled_case.h"
#include "numerics/random_numbers.h"
#include "support/case_text.h"
#include "support/files.h"

using namespace ringquell;
using namespace ringquell::internal;
using namespace case_text;
using test_files::demonstration;

namespace {

#ifdef RINGQUELL_SANITIZED
constexpr int share = 10;  // of the samples that correlations are taken of
#else
constexpr int share = 1;
#endif

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

/// The correlation of each two draws as normal numbers, in their order, over samples.
std::vector<std::vector<double>> correlations(const SampleSpace& space, int samples) {
    const size_t n = space.draws().size();
    std::vector<std::vector<double>> sums(n, std::vector<double>(n));
    std::vector<double> z(n);
    for (int k = 0; k < samples; ++k) {
        space.uniforms(29, static_cast<std::uint64_t>(k), 0, z.data());
        for (double& x : z) x = normal_quantile(x);
        for (size_t i = 0; i < n; ++i)
            for (size_t j = 0; j < n; ++j) sums[i][j] += z[i] * z[j];
    }
    auto out = sums;
    for (size_t i = 0; i < n; ++i)
        for (size_t j = 0; j < n; ++j) out[i][j] /= std::sqrt(sums[i][i] * sums[j][j]);
    return out;
}

/// Below four standard errors of a correlation r over normal samples, (1 − r²)/√n.
bool agrees(double found, double r, int samples) {
    return std::abs(found - r) < 4 * (1 - r * r) / std::sqrt(samples);
}

}  // namespace

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

TEST_CASE("a tolerance that names all before it gives any whole matrix of correlations") {
    const SampleSpace space(case_text::read(with_spread(R"(
  gate_path.inductance: {tolerance: 20 %, vary: batch}
  kelvin_path.inductance: {tolerance: 20 %, vary: batch, correlation: {with: gate_path.inductance, coefficient: -0.7}}
  power_loop.inductance:
    tolerance: 10 %
    correlation:
      - {with: gate_path.inductance, coefficient: 0.5}
      - {with: kelvin_path.inductance, coefficient: -0.1}
  "device[2].gate_resistance":
    tolerance: 10 %
    distribution: normal
    correlation:
      - {with: kelvin_path.inductance, coefficient: 0.3}
      - {with: gate_path.inductance, coefficient: -0.4}
      - {with: power_loop.inductance, coefficient: 0.2}
  driver.pull_up_resistance:
    tolerance: 30 %
    correlation:
      - {with: gate_path.inductance, coefficient: 0.6}
      - {with: kelvin_path.inductance, coefficient: -0.2}
      - {with: power_loop.inductance, coefficient: 0.75}
      - {with: "device[2].gate_resistance", coefficient: 0.1}
)")));
    REQUIRE(space.draws().size() == 5);
    const double asked[5][5] = {{1, -0.7, 0.5, -0.4, 0.6},
                                {-0.7, 1, -0.1, 0.3, -0.2},
                                {0.5, -0.1, 1, 0.2, 0.75},
                                {-0.4, 0.3, 0.2, 1, 0.1},
                                {0.6, -0.2, 0.75, 0.1, 1}};
    constexpr int samples = 100000 / share;
    const auto found = correlations(space, samples);
    for (size_t i = 0; i < 5; ++i)
        for (size_t j = 0; j < i; ++j) {
            CAPTURE(i);
            CAPTURE(j);
            CAPTURE(found[i][j]);
            CHECK(agrees(found[i][j], asked[i][j], samples));
        }
    // Each by itself is uniform still.
    std::vector<double> u(5), last;
    for (std::uint64_t k = 0; k < 4000; ++k) {
        space.uniforms(31, k, 0, u.data());
        last.push_back(u[4]);
    }
    CHECK(kolmogorov(last, [](double x) { return x; }) < 1.63);
}

TEST_CASE(
    "a correlation with one tolerance is the regression on it alone, to the last bit, and so is a list of "
    "one") {
    const std::string first = "  gate_path.inductance: {tolerance: 20 %}\n",
                      apart = first + "  kelvin_path.inductance: {tolerance: 20 %}\n",
                      with = "{with: gate_path.inductance, coefficient: 0.8}";
    const auto correlated = [&](const std::string& correlation) {
        return SampleSpace(case_text::read(with_spread(
            first + "  kelvin_path.inductance: {tolerance: 20 %, correlation: " + correlation + "}\n")));
    };
    const SampleSpace independent(case_text::read(with_spread(apart))), map = correlated(with),
                                                                        list = correlated("[" + with + "]");
    constexpr size_t n = 3;  // positions
    REQUIRE(map.draws().size() == 2 * n);
    for (std::uint64_t k = 0; k < 200; ++k) {
        std::vector<double> before(2 * n), now(2 * n), again(2 * n);
        independent.uniforms(5, k, 0, before.data());
        map.uniforms(5, k, 0, now.data());
        list.uniforms(5, k, 0, again.data());
        CHECK(now == again);
        for (size_t p = 0; p < n; ++p) {
            CHECK(now[p] == before[p]);
            const double r = 0.8;
            const double z =
                r * normal_quantile(before[p]) + std::sqrt(1 - r * r) * normal_quantile(before[n + p]);
            CHECK(now[n + p] == normal_probability(z));
        }
    }
}

TEST_CASE(
    "given what it names a tolerance is independent of the others, and each position goes with itself") {
    const SampleSpace space(case_text::read(with_spread(R"(
  device.gate_resistance: {tolerance: 10 %, correlation: [{with: kelvin_path.inductance, coefficient: 0.6}, {with: gate_path.inductance, coefficient: 0.1}]}
  gate_path.inductance: {tolerance: 20 %}
  kelvin_path.inductance: {tolerance: 20 %, correlation: {with: gate_path.inductance, coefficient: 0.8}}
  gate_path.resistor: {tolerance: 10 %, correlation: {with: kelvin_path.inductance, coefficient: 0.5}}
)")));
    constexpr size_t n = 3;  // positions; draws stand in the order of the tolerances
    REQUIRE(space.draws().size() == 4 * n);
    constexpr int samples = 10000 / share;
    const auto found = correlations(space, samples);
    const double asked[4][4] = {
        {1, 0.1, 0.6, 0.6 * 0.5}, {0.1, 1, 0.8, 0.8 * 0.5}, {0.6, 0.8, 1, 0.5}, {0.3, 0.4, 0.5, 1}};
    for (size_t i = 0; i < 4 * n; ++i)
        for (size_t j = 0; j < i; ++j) {
            CAPTURE(i);
            CAPTURE(j);
            CAPTURE(found[i][j]);
            CHECK(agrees(found[i][j], i % n == j % n ? asked[i / n][j / n] : 0, samples));
        }
}

TEST_CASE("one number goes with any other, of a batch, of one position, or one of those at each") {
    const SampleSpace space(case_text::read(with_spread(R"(
  gate_path.inductance: {tolerance: 20 %}
  "kelvin_path[2].inductance": {tolerance: 20 %, correlation: {with: "gate_path[2].inductance", coefficient: 0.7}}
  power_loop.inductance: {tolerance: 20 %, correlation: {with: "kelvin_path[2].inductance", coefficient: -0.9}}
  device.gate_resistance: {tolerance: 20 %, vary: batch, correlation: {with: "gate_path[3].inductance", coefficient: 0.4}}
)")));
    REQUIRE(space.draws().size() == 6);  // gate paths 1 to 3, then one each
    constexpr int samples = 10000 / share;
    const auto found = correlations(space, samples);
    const double asked[6][6] = {
        {1}, {0, 1}, {0, 0, 1}, {0, 0.7, 0, 1}, {0, -0.9 * 0.7, 0, -0.9, 1}, {0, 0, 0.4, 0, 0, 1}};
    for (size_t i = 0; i < 6; ++i)
        for (size_t j = 0; j < i; ++j) {
            CAPTURE(i);
            CAPTURE(j);
            CAPTURE(found[i][j]);
            CHECK(agrees(found[i][j], asked[i][j], samples));
        }
}

TEST_CASE("of two tolerances of one number that which varies alike is meant") {
    const SampleSpace space(case_text::read(with_spread(R"(
  "gate_path[1].inductance": [{tolerance: 10 %, vary: position}, {tolerance: 20 %, vary: batch}]
  power_loop.inductance: {tolerance: 20 %, correlation: {with: "gate_path[1].inductance", coefficient: 0.9}}
)")));
    REQUIRE(space.draws().size() == 3);
    REQUIRE(space.draws()[2].parents.size() == 1);
    CHECK(space.draws()[2].parents.front().draw == 1);
    CHECK(space.draws()[2].parents.front().weight == 0.9);
}

TEST_CASE("a sample's inputs depend on seed and number alone") {
    const SampleSpace space(demonstration("ropeway-cured", {"spread=typical", "operation.path.steps=3"}));
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
