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
