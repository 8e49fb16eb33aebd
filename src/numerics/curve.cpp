#include "numerics/curve.h"

#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <cmath>
#include <stdexcept>

namespace ringquell::internal {

namespace {

/// Slope at xa of the parabola through (xa, ya), (xb, yb), (xc, yc), in any order.
double parabola_slope(double xa, double ya, double xb, double yb, double xc, double yc) {
    const double ab = (yb - ya) / (xb - xa);
    const double ac = (yc - ya) / (xc - xa);
    return (ab * (xc - xa) - ac * (xb - xa)) / (xc - xb);
}

/// The interval [x_i, x_i+1] that holds x, for x inside the points.
size_t interval_of(const std::vector<double>& x, double at) {
    const auto upper = std::upper_bound(x.begin() + 1, x.end() - 1, at);
    return static_cast<size_t>(upper - x.begin()) - 1;
}

/// Fritsch & Carlson's conditions on the interval after point i: no slope against the secant, α² + β² ≤ 9.
void limit_slopes(HermiteCurve& c, size_t i) {
    const double secant = (c.y[i + 1] - c.y[i]) / (c.x[i + 1] - c.x[i]);
    double& left = c.slope[i];
    double& right = c.slope[i + 1];
    if (secant == 0) {
        left = right = 0;
        return;
    }
    const double alpha = std::max(left / secant, 0.0);
    const double beta = std::max(right / secant, 0.0);
    const double radius = std::hypot(alpha, beta);
    const double shrink = radius > 3 ? 3 / radius : 1;
    left = shrink * alpha * secant;
    right = shrink * beta * secant;
}

void require_finite(const CurvePoints& points, size_t least) {
    if (points.size() < least) {
        throw std::invalid_argument(fmt::format("{} points; expected at least {}", points.size(), least));
    }
    for (size_t i = 0; i < points.size(); ++i) {
        if (!std::isfinite(points[i].first) || !std::isfinite(points[i].second)) {
            throw std::invalid_argument(fmt::format("row {} is not finite", i + 1));
        }
    }
    if (const auto row = first_row_not_rising(points)) {
        throw std::invalid_argument(fmt::format("row {}: {} after {}; expected strictly rising", *row + 1,
                                                points[*row].first, points[*row - 1].first));
    }
}

}  // namespace

HermiteCurve hermite_curve(const CurvePoints& points) {
    assert(!points.empty() && !first_row_not_rising(points));
    HermiteCurve c;
    for (const auto& [x, y] : points) {
        c.x.push_back(x);
        c.y.push_back(y);
    }
    const size_t n = points.size();
    c.slope.assign(n, 0);
    if (n == 1) return c;
    if (n == 2) {
        c.slope.assign(2, (c.y[1] - c.y[0]) / (c.x[1] - c.x[0]));
        return c;
    }
    for (size_t i = 0; i < n; ++i) {
        const size_t mid = std::clamp<size_t>(i, 1, n - 2);
        const size_t b = i == mid ? mid - 1 : mid;
        const size_t c2 = i == mid ? mid + 1 : (i < mid ? mid + 1 : mid - 1);
        c.slope[i] = parabola_slope(c.x[i], c.y[i], c.x[b], c.y[b], c.x[c2], c.y[c2]);
    }
    for (size_t i = 0; i + 1 < n; ++i) limit_slopes(c, i);
    return c;
}

CurveValue evaluate(const HermiteCurve& c, double x) {
    if (x < c.x.front() || c.x.size() == 1) return {c.y.front(), 0};
    if (x > c.x.back()) return {c.y.back(), 0};
    const size_t i = interval_of(c.x, x);
    const double h = c.x[i + 1] - c.x[i];
    const double t = (x - c.x[i]) / h;
    const double rise = c.y[i + 1] - c.y[i];
    const double a = h * c.slope[i];
    const double b = h * c.slope[i + 1];
    // y = y_i + a·t + (3·rise − 2a − b)·t² + (a + b − 2·rise)·t³
    const double quadratic = 3 * rise - 2 * a - b;
    const double cubic = a + b - 2 * rise;
    return {c.y[i] + t * (a + t * (quadratic + t * cubic)), (a + t * (2 * quadratic + 3 * t * cubic)) / h};
}

MonotoneCubic::MonotoneCubic(const CurvePoints& points) {
    require_finite(points, 2);
    if (const auto row = first_row_falling(points)) {
        throw std::invalid_argument(fmt::format("row {}: {} after {}; expected not falling", *row + 1,
                                                points[*row].second, points[*row - 1].second));
    }
    curve_ = hermite_curve(points);
    if (first_y() == 0)
        curve_.slope.front() = 0;  // the region of Fritsch & Carlson holds slope 0: still monotone
}

Domain MonotoneCubic::domain(double x) const {
    return x < first_x() ? Domain::below : x > last_x() ? Domain::above : Domain::inside;
}

std::optional<CurveValue> MonotoneCubic::at(double x) const {
    switch (domain(x)) {
        case Domain::above:
            return std::nullopt;
        case Domain::below:
            return first_y() == 0 ? std::optional<CurveValue>(CurveValue{}) : std::nullopt;
        case Domain::inside:
            break;
    }
    CurveValue v = evaluate(curve_, x);
    v.derivative = std::max(v.derivative, 0.0);  // rounding may leave −1e-17 where it is 0
    return v;
}

std::optional<double> MonotoneCubic::inverse(double y) const {
    if (!(y >= first_y() && y <= last_y())) return std::nullopt;
    const auto upper = std::lower_bound(curve_.y.begin(), curve_.y.end(), y);
    const auto i = static_cast<size_t>(upper - curve_.y.begin());
    if (*upper == y) return curve_.x[i];
    double low = curve_.x[i - 1];
    double high = curve_.x[i];
    double x = low + (high - low) * (y - curve_.y[i - 1]) / (curve_.y[i] - curve_.y[i - 1]);
    // Newton, kept inside the bracket by halving it; both together end within rounding in far fewer steps.
    for (int step = 0; step < 200; ++step) {
        const CurveValue v = evaluate(curve_, x);
        if (v.value == y) break;
        (v.value < y ? low : high) = x;
        const double newton = x - (v.value - y) / v.derivative;
        const double next = newton > low && newton < high ? newton : low + (high - low) / 2;
        if (next == x || next == low || next == high) break;
        x = next;
    }
    return x;
}

CapacitanceInterpolant::CapacitanceInterpolant(const CurvePoints& points) {
    require_finite(points, 1);
    for (size_t i = 0; i < points.size(); ++i) {
        if (points[i].first < 0) throw std::invalid_argument(fmt::format("row {}: a voltage below 0", i + 1));
        if (points[i].second <= 0)
            throw std::invalid_argument(fmt::format("row {}: a capacitance not above 0", i + 1));
    }
    first_v_ = points.front().first;
    last_v_ = points.back().first;
    for (const auto& point : points) {
        if (point.first > 0) {
            scale_v_ = point.first;
            break;
        }
    }
    CurvePoints logs;
    for (const auto& [v, c] : points) logs.emplace_back(std::log1p(v / scale_v_), std::log(c));
    log_curve_ = hermite_curve(logs);
}

Domain CapacitanceInterpolant::domain(double voltage_v) const {
    return voltage_v < first_v_ ? Domain::below : voltage_v > last_v_ ? Domain::above : Domain::inside;
}

CurveValue CapacitanceInterpolant::at(double voltage_v) const {
    const double v = std::clamp(voltage_v, first_v_, last_v_);
    // u rounds differently here than in the table at most by one digit; clamp so that the ends stay inside.
    const double u = std::clamp(std::log1p(v / scale_v_), log_curve_.x.front(), log_curve_.x.back());
    const CurveValue log_value = evaluate(log_curve_, u);
    const double c = std::exp(log_value.value);
    const bool inside = domain(voltage_v) == Domain::inside;
    return {c, inside ? c * log_value.derivative / (v + scale_v_) : 0};
}

std::optional<size_t> first_row_not_rising(const CurvePoints& points) {
    for (size_t i = 1; i < points.size(); ++i) {
        if (!(points[i].first > points[i - 1].first)) return i;
    }
    return std::nullopt;
}

std::optional<size_t> first_row_falling(const CurvePoints& points) {
    for (size_t i = 1; i < points.size(); ++i) {
        if (!(points[i].second >= points[i - 1].second)) return i;
    }
    return std::nullopt;
}

}  // namespace ringquell::internal
