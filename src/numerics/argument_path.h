// The argument principle on det(λE − A): how many zeros a closed path goes round.
//
// With L = ln det(λE − A), the change of Im L along a closed path is 2π times the zeros inside. Zeros that
// are known (or guessed: it need not be exact) are divided out, g = det/Π(λ − μ), and added back by geometry;
// what is left is smoother. An interval of length h (s runs in ln|λ| on rays, in radians on arcs) is taken as
// resolved where
//   |h·(L_g'(b) − L_g'(a))| ≤ 3 and |L_g(b) − L_g(a) − h·(L_g'(a) + L_g'(b))/2| ≤ ½ (imaginary part modulo
//   2π).
// A zero of g on the interval, of any multiplicity m, makes the first at least 4m, wherever it lies: it
// cannot be stepped over, and neither can turns of 2π, since the derivative foretells the change. All in
// natural units (units.h): λ in 1/ns.
#pragma once

#include <complex>
#include <functional>
#include <map>
#include <memory>
#include <vector>

#include "numerics/batched_determinant.h"

namespace ringquell::internal {

/// A piece of a path: on a ray λ = exp(s)·exp(j·angle), s from `from` to `to`; on an arc λ = centre +
/// radius·exp(j·s).
struct PathPiece {
    bool ray = true;
    std::complex<double> centre = 0;
    double radius = 1, angle = 0;
    double from = 0, to = 0;
    double step = 0.5;  // to start with

    std::complex<double> at(double s) const;
    std::complex<double> derivative(double s) const;  // dλ/ds
    bool same_line(const PathPiece& o) const {
        return ray == o.ray && centre == o.centre && radius == o.radius && angle == o.angle;
    }
};

/// Zeros that are divided out; one with a positive imaginary part stands for the conjugate pair, and counts
/// twice.
struct KnownZeros {
    std::vector<std::complex<double>> upper;
    /// Σ ln(λ − μ) (imaginary part modulo 2π) and its derivative.
    std::complex<double> log_product(std::complex<double> lambda) const;
    std::complex<double> log_derivative(std::complex<double> lambda) const;
};

/// Walks paths on one pencil. What was computed on a ray or an arc serves every path that uses part of it.
class ArgumentPath {
  public:
    ArgumentPath(PencilLu& lu, const KnownZeros& zeros) : determinant_(lu), zeros_(zeros) {}

    /// Asked where the walk has become slow, with the place: may add to the known zeros, and then returns
    /// true.
    using Explain = std::function<bool(std::complex<double>)>;

    /// The change of arg g along the pieces, rad. Throws NumericalError where a zero of g lies on the path.
    double change(const std::vector<PathPiece>& pieces, const Explain& explain);
    /// Where on the rays walked so far, with low < |λ| < high, g changes fastest: beside it lies an unknown
    /// zero. 0 where none.
    std::complex<double> restless(double low, double high) const;
    long determinants() const { return determinant_.count(); }

  private:
    struct Sample {
        std::complex<double> lambda, value, slope;  // slope = d ln det/dλ
    };
    struct Line {
        PathPiece piece;
        std::map<double, Sample> samples;
    };
    struct Request {
        Line* line;
        double s;
    };
    Line& line_of(const PathPiece& piece);
    void sample(const std::vector<Request>& requests);

    BatchedDeterminant determinant_;
    const KnownZeros& zeros_;
    std::vector<std::unique_ptr<Line>> lines_;
};

}  // namespace ringquell::internal
