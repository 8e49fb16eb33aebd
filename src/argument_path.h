// The argument principle on det(λE − A): how many zeros a closed path goes round.
//
// With L = ln det(λE − A), the change of Im L along a closed path is 2π times the zeros inside. Zeros that
// are known (or guessed: it need not be exact) are divided out, g = det/Π(λ − μ), and added back by geometry;
// what is left is smooth, so that a path with hundreds of modes beside it takes a few hundred factorisations.
// An interval of length h (s runs in ln|λ| on rays, in radians on arcs) is taken as resolved where
//   |h·(L_g'(b) − L_g'(a))| ≤ 3 and |L_g(b) − L_g(a) − h·(L_g'(a) + L_g'(b))/2| ≤ ½ (imaginary part modulo
//   2π).
// A zero of g on the interval, of any multiplicity m, makes the first at least 4m, wherever it lies: it
// cannot be stepped over, and neither can turns of 2π, since the derivative foretells the change. All in
// natural units (state_space.h): λ in 1/ns.
#pragma once

#include <complex>
#include <functional>
#include <vector>

#include "sparse_lu.h"

namespace ringquell {

/// A piece of a path: on a ray λ = exp(s)·exp(j·angle), s from `from` to `to`; on an arc λ = centre +
/// radius·exp(j·s).
struct PathPiece {
    bool ray = true;
    std::complex<double> centre = 0;
    double radius = 1, angle = 0;
    double from = 0, to = 0;
    int intervals = 4;  // to start with

    std::complex<double> at(double s) const;
    std::complex<double> derivative(double s) const;  // dλ/ds
};

/// Zeros that are divided out; one with a positive imaginary part stands for the conjugate pair, and counts
/// twice.
struct KnownZeros {
    std::vector<std::complex<double>> upper;
    /// Σ ln(λ − μ) (imaginary part modulo 2π) and its derivative.
    std::complex<double> log_product(std::complex<double> lambda) const;
    std::complex<double> log_derivative(std::complex<double> lambda) const;
};

/// Walks paths on one pencil.
class ArgumentPath {
  public:
    ArgumentPath(PencilLu& lu, const KnownZeros& zeros) : lu_(lu), zeros_(zeros) {}

    /// Asked where the walk has become slow, with the place: may add to the known zeros, and then returns
    /// true.
    using Explain = std::function<bool(std::complex<double>)>;

    /// The change of arg g along the pieces, rad. Throws NumericalError where a zero of g lies on the path.
    double change(const std::vector<PathPiece>& pieces, const Explain& explain);
    long factorisations() const { return factorisations_; }

  private:
    struct Sample {
        double s;
        std::complex<double> lambda, value, slope;  // slope = d ln det/dλ
        std::complex<double> g, g_slope;            // L_g and dL_g/ds
    };
    Sample sample(const PathPiece& piece, double s);
    void divide_out(const PathPiece& piece, Sample& sample) const;

    PencilLu& lu_;
    const KnownZeros& zeros_;
    long factorisations_ = 0;
};

}  // namespace ringquell
