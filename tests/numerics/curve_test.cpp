#include "numerics/curve.h"

#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <random>
#include <stdexcept>

#include "support/relative.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

CurvePoints sampled(const std::function<double(double)>& f, double low, double high, int intervals) {
    CurvePoints points;
    for (int i = 0; i <= intervals; ++i) {
        const double x = low + (high - low) * i / intervals;
        points.emplace_back(x, f(x));
    }
    return points;
}

struct WorstErrors {
    double value = 0, derivative = 0;
};

WorstErrors worst_errors(const CurvePoints& points, const std::function<double(double)>& f,
                         const std::function<double(double)>& slope) {
    const MonotoneCubic curve(points);
    WorstErrors worst;
    for (int i = 0; i <= 5000; ++i) {
        const double x = curve.first_x() + (curve.last_x() - curve.first_x()) * i / 5000;
        const auto v = curve.at(x).value();
        worst.value = std::max(worst.value, std::abs(v.value - f(x)));
        worst.derivative = std::max(worst.derivative, std::abs(v.derivative - slope(x)));
    }
    return worst;
}

}  // namespace

TEST_CASE("halving the spacing of a smooth curve's points divides the derivative's error by four") {
    const auto f = [](double v) { return 5.5 * std::pow(v - 4.1, 1.7); };
    const auto slope = [](double v) { return 5.5 * 1.7 * std::pow(v - 4.1, 0.7); };
    WorstErrors before = worst_errors(sampled(f, 5, 12, 14), f, slope);
    for (int intervals : {28, 56, 112, 224, 448}) {
        const WorstErrors now = worst_errors(sampled(f, 5, 12, intervals), f, slope);
        const double derivative_order = std::log2(before.derivative / now.derivative);
        const double value_order = std::log2(before.value / now.value);
        // Both orders tend to their limits, 2 and 3, from below; the last check is the sharp one.
        CAPTURE(intervals);
        CHECK(derivative_order > (intervals < 100 ? 1.7 : intervals < 400 ? 1.9 : 1.97));
        CHECK(value_order > (intervals < 100 ? 2.6 : 2.9));
        before = now;
    }
    CHECK(std::log2(worst_errors(sampled(f, 5, 12, 4096), f, slope).derivative /
                    worst_errors(sampled(f, 5, 12, 8192), f, slope).derivative) > 1.99);
}

TEST_CASE("a parabola that starts from zero with slope zero is reproduced") {
    const MonotoneCubic curve({{4, 0}, {5, 3}, {7, 27}, {8, 48}});
    for (double x : {4.0, 4.3, 5.0, 6.1, 7.7, 8.0}) {
        CHECK(std::abs(curve.at(x)->value - 3 * (x - 4) * (x - 4)) < 1e-13 * 48);
        CHECK(std::abs(curve.at(x)->derivative - 6 * (x - 4)) < 1e-13 * 24);
    }
}

TEST_CASE("between any non-decreasing points the curve never falls, and its derivative is continuous") {
    std::mt19937 random(7);
    std::exponential_distribution<double> step(1.0);
    std::bernoulli_distribution flat(0.3);
    for (int sample = 0; sample < 200; ++sample) {
        CurvePoints points{{0, flat(random) ? 0 : 1}};
        for (int i = 0; i < 12; ++i) {
            points.emplace_back(points.back().first + 0.01 + step(random),
                                points.back().second + (flat(random) ? 0 : std::pow(step(random), 4)));
        }
        const MonotoneCubic curve(points);
        double last = curve.first_y();
        for (int i = 0; i <= 4000; ++i) {
            const double x = curve.first_x() + (curve.last_x() - curve.first_x()) * i / 4000;
            const auto v = curve.at(std::min(x, curve.last_x())).value();
            REQUIRE(v.derivative >= 0);
            REQUIRE(v.value >= last - 1e-14 * curve.last_y());
            last = v.value;
        }
        for (size_t i = 1; i + 1 < points.size(); ++i) {
            const double x = points[i].first;
            const double left = curve.at(std::nextafter(x, -1.0))->derivative;
            const double right = curve.at(x)->derivative;
            // to the rounding of a secant of this interval
            REQUIRE(std::abs(left - right) <= 1e-12 * curve.last_y() / (x - points[i - 1].first));
        }
    }
}

TEST_CASE("the inverse undoes the curve, takes the left end of a flat part, and is empty outside") {
    const MonotoneCubic curve({{4, 0}, {5, 0}, {6, 1}, {7, 6}, {9, 6}, {10, 30}});
    for (double y : {1e-6, 0.2, 1.0, 3.3, 5.999, 6.5, 29.9, 30.0}) {
        CHECK_RELATIVE(curve.at(curve.inverse(y).value())->value, y, 1e-12);
    }
    CHECK(curve.inverse(0.0) == 4.0);
    CHECK(curve.inverse(6.0) == 7.0);
    CHECK_FALSE(curve.inverse(30.01));
    CHECK_FALSE(curve.inverse(-1.0));
}

TEST_CASE(
    "a curve is not extrapolated: zero below a first point of zero, else nothing; nothing above the last") {
    const MonotoneCubic from_zero({{4, 0}, {5, 1}, {6, 3}});
    CHECK(from_zero.domain(3) == Domain::below);
    CHECK(from_zero.at(3)->value == 0);
    CHECK(from_zero.at(3)->derivative == 0);
    CHECK(from_zero.at(4)->derivative == 0);
    CHECK(from_zero.domain(6) == Domain::inside);
    CHECK(from_zero.domain(6.1) == Domain::above);
    CHECK_FALSE(from_zero.at(6.1));
    const MonotoneCubic from_two({{4, 2}, {5, 3}});
    CHECK_FALSE(from_two.at(3.9));
    CHECK(from_two.at(4.5)->value == 2.5);
}

TEST_CASE("points that go back on themselves are refused with their row") {
    CHECK(first_row_not_rising({{1, 0}, {2, 0}, {2, 1}}) == 2);
    CHECK(first_row_falling({{1, 0}, {2, 3}, {3, 2}, {4, 1}}) == 2);
    CHECK_FALSE(first_row_not_rising({{1, 0}, {2, 0}}));
    CHECK_FALSE(first_row_falling({{1, 0}, {2, 0}}));
    CHECK_THROWS_WITH_AS(MonotoneCubic({{1, 0}, {2, 3}, {3, 2}}), "row 3: 2 after 3; expected not falling",
                         std::invalid_argument);
    CHECK_THROWS_WITH_AS(MonotoneCubic({{1, 0}, {1, 3}}), "row 2: 1 after 1; expected strictly rising",
                         std::invalid_argument);
    CHECK_THROWS_WITH_AS(MonotoneCubic({{1, 0}}), "1 points; expected at least 2", std::invalid_argument);
}

TEST_CASE("a junction capacitance with three points a decade is followed to 1 %, smooth and positive") {
    // C0/(1 + v/0.8 V)^0.5 with a floor, from 0 to 1000 V.
    const auto c = [](double v) { return 3e-9 / std::sqrt(1 + v / 0.8) + 20e-12; };
    CurvePoints points;
    for (double v : {0.0, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0}) {
        points.emplace_back(v, c(v));
    }
    const CapacitanceInterpolant curve(points);
    double before = c(0);
    for (double v = 0; v <= 1000; v += 0.01 + 0.002 * v) {
        const CurveValue at = curve.at(v);
        REQUIRE(relative_difference(at.value, c(v)) < 0.01);
        REQUIRE(at.value > 0);
        REQUIRE(at.value <= before * (1 + 1e-12));
        REQUIRE(at.derivative <= 0);
        before = at.value;
    }
    const double step = 1e-5;
    for (double v : {0.05, 0.3, 7.0, 80.0}) {
        CHECK_RELATIVE((curve.capacitance_f(v + step) - curve.capacitance_f(v - step)) / (2 * step),
                       curve.at(v).derivative, 1e-4);
    }
}

TEST_CASE(
    "a power law is a straight line in the capacitance's coordinates once v is far above the first voltage") {
    CurvePoints points;
    for (double v = 1e-8; v < 2e3; v *= 10) points.emplace_back(v, 1e-9 * std::pow(v, -0.5));
    const CapacitanceInterpolant curve(points);
    for (double v : {0.3, 4.0, 50.0, 700.0})
        CHECK_RELATIVE(curve.capacitance_f(v), 1e-9 * std::pow(v, -0.5), 1e-6);
}

TEST_CASE("outside its points a capacitance is constant and says so") {
    const CapacitanceInterpolant curve({{1, 3e-9}, {10, 1e-9}, {100, 4e-10}});
    CHECK(curve.domain(0) == Domain::below);
    CHECK(curve.domain(200) == Domain::above);
    CHECK_RELATIVE(curve.capacitance_f(0), 3e-9, 1e-14);
    CHECK_RELATIVE(curve.capacitance_f(200), 4e-10, 1e-14);
    CHECK(curve.at(200).derivative == 0);
    CHECK_RELATIVE(CapacitanceInterpolant({{0, 2e-9}}).capacitance_f(50), 2e-9, 1e-14);
    CHECK_THROWS_WITH_AS(CapacitanceInterpolant({{0, 2e-9}, {1, 0}}), "row 2: a capacitance not above 0",
                         std::invalid_argument);
}
