// The complete set of resistances at which an uneven layout can bound a window.
//
// The explicit form of an uneven network is A(r) = A₀ − r·B·C, where B (n × m) and C (m × n) have one column
// and row for each of the m gate resistors of value r. A real r is a bound where two eigenvalues of A(r)
// stand in one of these relations, each of which makes a linear map of X (n × n) singular:
//   on the ray of damping ζ, e = −ζ + j√(1 − ζ²):  λ = ωe and λ* = ωe*:   e*·A·X − e·X·Aᵀ = 0,  X Hermitian
//   on the imaginary axis:                         λ + λ* = 0:            A·X + X·Aᵀ = 0,       X
//   antisymmetric on the circle |λ| = ω_b of a band's edge:      λ·λ* = ω_b²:           A·X·Aᵀ − ω_b²·X = 0,
//   X antisymmetric
// X = x·xᴴ (or its imaginary part) is in the null space, x the eigenvector. With A = A_b − δ·B·C about some
// base, and S the inverse of the map at the base, which is a division in the eigenvectors' coordinates of
// A_b, Y = C·X obeys 1/δ·Y = C·S(right side in Y): an ordinary real eigenvalue problem, of order 2mn for
// the ray and mn for the rest (and m(m − 1)/2 more on the circle, where δ also enters squared), instead of
// the n² unknowns of X. A real eigenvalue through zero: 1/δ is one of C·A_b⁻¹·B.
// This is the pencil over position pairs, det(Z(s)⊗I − I⊗Z(s*)) = 0, with what does not vary eliminated.
#pragma once

#include <Eigen/Core>
#include <functional>
#include <optional>
#include <vector>

namespace ringquell::internal {

/// A(r) = base − (r − at)·b·c; any consistent units.
struct ResistiveFamily {
    Eigen::MatrixXd base, b, c;
    double at = 0;
    Eigen::Index order() const { return 2 * b.cols() * b.rows(); }  // of the largest eigenvalue problem
};

/// From A at values of r in (0, limit]; empty where A is not affine in r, as where a gate resistor meets a
/// node without capacitance or inductance.
std::optional<ResistiveFamily> resistive_family(const std::function<Eigen::MatrixXd(double r)>& a,
                                                double limit);

/// The same family written about another value of r.
ResistiveFamily about(const ResistiveFamily& family, double at);

/// Every r in [0, limit] at which an eigenvalue lies on the damping ray, on the imaginary axis, at zero, or
/// on a circle of one of these radii (in the unit of A's eigenvalues); sorted. Values may be among them that
/// bound nothing. Damping in [0, 1). Where the numbers fail about one base another is taken; NumericalError
/// where they fail about all.
std::vector<double> pair_boundary_values(const ResistiveFamily& family, double damping,
                                         const std::vector<double>& radii, double limit);

}  // namespace ringquell::internal
