// Curves through measured points: transfer curves (monotone) and capacitances against voltage (positive).
// Nothing here extrapolates silently: outside its points a curve says where it was asked.
#pragma once

#include <cstddef>
#include <optional>
#include <utility>
#include <vector>

namespace ringquell::internal {

using CurvePoints = std::vector<std::pair<double, double>>;

/// Where an argument lies with respect to the first and the last point.
enum class Domain { below, inside, above };

struct CurveValue {
    double value = 0;
    double derivative = 0;
};

/// A piecewise cubic with a continuous derivative: on [x_i, x_i+1] the cubic Hermite interpolant of the
/// values y and the slopes at both ends.
struct HermiteCurve {
    std::vector<double> x, y, slope;
};

/// The interpolant of Fritsch & Carlson (SIAM J. Numer. Anal. 17, 1980, 238): monotone wherever the points
/// are. Slopes start from the parabola through three neighbouring points (at an end: the first or last three)
/// and are then pulled into the monotonicity region α² + β² ≤ 9, α and β being the slopes at both ends of an
/// interval over its secant. Where the limit does not act, the value is of third order in the spacing or
/// better and the derivative of second order. Needs at least one point, strictly rising x (asserted).
HermiteCurve hermite_curve(const CurvePoints& points);

/// Value and derivative; beyond the ends the value there and derivative 0.
CurveValue evaluate(const HermiteCurve& curve, double x);

/// A non-decreasing curve, such as a drain current against the gate voltage.
///
/// Below the first point: 0 with derivative 0 if the first value is 0 (the slope at that point is then made
/// 0, so that the derivative stays continuous), otherwise nothing. Above the last: nothing.
class MonotoneCubic {
  public:
    /// Throws std::invalid_argument with the row (from 1) unless there are two points or more, finite,
    /// strictly rising in x, not falling in y.
    explicit MonotoneCubic(const CurvePoints& points);

    Domain domain(double x) const;
    /// Value and derivative (≥ 0); empty where the curve says nothing.
    std::optional<CurveValue> at(double x) const;
    /// The least x of the points' range with value(x) = y, to rounding; empty if y is outside the points'
    /// range.
    std::optional<double> inverse(double y) const;

    double first_x() const { return curve_.x.front(); }
    double last_x() const { return curve_.x.back(); }
    double first_y() const { return curve_.y.front(); }
    double last_y() const { return curve_.y.back(); }

  private:
    HermiteCurve curve_;
};

/// A capacitance against voltage, C(v) = exp(p(u)), u = log(1 + v/v0), p the interpolant `hermite_curve`
/// through (u_i, log C_i) and v0 the first positive voltage of the points. So it is linear in v near zero,
/// log–log from there on, positive, monotone where the points are, with a continuous derivative between its
/// ends. Outside the points it is constant, and `domain` says so.
class CapacitanceInterpolant {
  public:
    /// Points (V, F). Throws std::invalid_argument with the row (from 1) unless there is one or more, finite,
    /// v ≥ 0 and strictly rising, C > 0.
    explicit CapacitanceInterpolant(const CurvePoints& points);

    Domain domain(double voltage_v) const;
    double capacitance_f(double voltage_v) const { return at(voltage_v).value; }
    /// C in F and dC/dv in F/V (0 outside the points).
    CurveValue at(double voltage_v) const;

  private:
    double first_v_ = 0;
    double last_v_ = 0;
    double scale_v_ = 1;
    HermiteCurve log_curve_;
};

/// Index (from 0) of the first row whose x does not exceed the x before it; empty if there is none.
std::optional<size_t> first_row_not_rising(const CurvePoints& points);
/// Index of the first row whose y is below the y before it.
std::optional<size_t> first_row_falling(const CurvePoints& points);

}  // namespace ringquell::internal
