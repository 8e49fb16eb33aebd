// The complete set of values at which a parameter of rank one can bound a window.
//
// With P(s) = sE − A taken at parameter zero, an eigenvalue lies at s for the value p where 1 +
// p·g(s)·rᵀP(s)⁻¹l = 0, with g = 1 for elements of A (resistance, conductance, transconductance) and g = s
// for elements of E (inductance, capacitance).
//   On the ray s = ω·e, e = −ζ + j√(1 − ζ²): p is real where Im g·rᵀP⁻¹l = 0. With x = u + jv, P(s)x = l·α:
//     ω[[cE, −sE], [sE, cE]](u, v) = diag(A, A)(u, v) + (l, 0)α,   0 = rᵀv (or c·rᵀv + s·rᵀu),   c = −ζ, s =
//     √(1 − ζ²).
//   On the circle |s| = ω_b: s* = ω_b²/s, so rᵀP(s)⁻¹l = rᵀP(ω_b²/s)⁻¹l, with (ω_b²E − sA)y = lα linear in s:
//     0 = rᵀx − s·rᵀy (or s·rᵀx − ω_b²·rᵀy).
//   At s = 0 a real eigenvalue begins to grow: p from P at a real s far below every mode.
// The numbers ω or s are eigenvalues of pencils twice the network's size; these are reduced like the network
// itself.
#include "sizing/boundary_pencil.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <memory>
#include <numbers>

#include "network/reducer.h"
#include "numerics/decompositions.h"
#include "numerics/explicit_form.h"
#include "numerics/pencil_reduction.h"
#include "numerics/small_eigen.h"

namespace ringquell::internal {

namespace {

class BoundaryPencils {
  public:
    BoundaryPencils(const Network& network, size_t element, BoundaryCache& cache)
        : network_(network),
          cache_(cache),
          element_(element),
          values_(Reducer::element_values(network)),
          n_(network.size()) {}

    std::vector<double> on_ray(double zeta, double limit) {
        const double c = -zeta, s = std::sqrt(1 - zeta * zeta);
        std::vector<double> out;
        for (const auto& omega :
             eigenvalues(zeta == 0 ? BoundaryCache::Pencil::axis : BoundaryCache::Pencil::ray, {c, s, 1}))
            if (omega.real() > 0 && std::abs(omega.imag()) < nearly * omega.real())
                keep(out, omega.real() * std::complex<double>(c, s), limit);
        return out;
    }

    std::vector<double> on_circle(double radius, double limit) {
        std::vector<double> out;
        for (const auto& s : eigenvalues(BoundaryCache::Pencil::circle, {radius * radius, 1}))
            if (s.imag() >= 0 && std::abs(std::abs(s) - radius) < nearly * radius)
                keep(out, s * (radius / std::abs(s)), limit);
        return out;
    }

    /// The value at which a real eigenvalue passes through zero, seen from an s far below every mode.
    std::vector<double> at_zero(double limit) {
        constexpr double small = 1e-8;  // 1/ns: 10 rad/s
        std::vector<double> out;
        keep(out, small, limit);
        return out;
    }

  private:
    // Eigenvalues within this share of the real axis or circle are candidates; a false one costs an
    // evaluation, no more.
    static constexpr double nearly = 1e-4;

    std::unique_ptr<PencilReduction> record_ray(double c, double s) const {
        Tape tape;
        const auto inputs = start(tape);
        const Traced cosine = tape.input(c), sine = tape.input(s);
        const Traced one = tape.input(1);
        TracedPencil pencil(2 * n_ + 1);
        for_each_entry(inputs, one, [&](bool in_e, int i, int j, const Traced& value, double sign) {
            if (in_e) {
                const Traced vs = tape.multiply(value, sine);
                if (!cosine.is_zero()) {
                    const Traced vc = tape.multiply(value, cosine);
                    add(tape, pencil.e, i, j, vc, sign);
                    add(tape, pencil.e, n_ + i, n_ + j, vc, sign);
                }
                add(tape, pencil.e, i, n_ + j, vs, -sign);
                add(tape, pencil.e, n_ + i, j, vs, sign);
            } else {
                add(tape, pencil.a, i, j, value, sign);
                add(tape, pencil.a, n_ + i, n_ + j, value, sign);
            }
        });
        const Element& e = network_.elements[element_];
        for (const auto& [i, sign] : e.left) add(tape, pencil.a, i, 2 * n_, one, sign);
        for (const auto& [j, sign] : e.right) {
            if (!e.in_e()) {
                add(tape, pencil.a, 2 * n_, n_ + j, one, sign);
            } else {
                if (!cosine.is_zero()) add(tape, pencil.a, 2 * n_, n_ + j, cosine, sign);
                add(tape, pencil.a, 2 * n_, j, sine, sign);
            }
        }
        return reduced(std::move(tape), std::move(pencil));
    }

    std::unique_ptr<PencilReduction> record_circle(double squared) const {
        Tape tape;
        const auto inputs = start(tape);
        const Traced square = tape.input(squared), one = tape.input(1);
        TracedPencil pencil(2 * n_ + 1);
        for_each_entry(inputs, one, [&](bool in_e, int i, int j, const Traced& value, double sign) {
            if (in_e) {
                add(tape, pencil.e, i, j, value, sign);
                add(tape, pencil.a, n_ + i, n_ + j, tape.multiply(value, square), -sign);
            } else {
                add(tape, pencil.a, i, j, value, sign);
                add(tape, pencil.e, n_ + i, n_ + j, value, -sign);
            }
        });
        const Element& e = network_.elements[element_];
        for (const auto& [i, sign] : e.left) {
            add(tape, pencil.a, i, 2 * n_, one, sign);
            add(tape, pencil.a, n_ + i, 2 * n_, one, sign);
        }
        for (const auto& [j, sign] : e.right) {
            if (e.in_e()) {  // s·rᵀx = ω²·rᵀy
                add(tape, pencil.e, 2 * n_, j, one, sign);
                add(tape, pencil.a, 2 * n_, n_ + j, square, sign);
            } else {  // s·rᵀy = rᵀx
                add(tape, pencil.e, 2 * n_, n_ + j, one, sign);
                add(tape, pencil.a, 2 * n_, j, one, sign);
            }
        }
        return reduced(std::move(tape), std::move(pencil));
    }

    static void add(Tape& tape, std::vector<TracedPencil::Row>& matrix, int i, int j, const Traced& value,
                    double sign) {
        TracedPencil::add(tape, matrix[static_cast<size_t>(i)], j, value, sign);
    }
    std::vector<Traced> start(Tape& tape) const {
        std::vector<Traced> inputs;
        for (double value : values_) inputs.push_back(tape.input(value));
        return inputs;
    }
    template <class Visit>
    void for_each_entry(const std::vector<Traced>& inputs, const Traced& one, Visit visit) const {
        for (const auto& t : network_.constant) visit(false, t.row(), t.col(), one, t.value());
        for (size_t k = 0; k < inputs.size(); ++k) {
            const Element& e = network_.elements[k];
            if (k == element_ || inputs[k].is_zero()) continue;
            const double sign = e.in_e() ? 1 : -1;
            for (const auto& [i, a] : e.left)
                for (const auto& [j, b] : e.right) {
                    visit(e.in_e(), i, j, inputs[k], sign * a * b);
                    if (e.kind == ElementKind::mutual) visit(e.in_e(), j, i, inputs[k], sign * a * b);
                }
        }
    }
    /// Null where the pencil is singular for every ω: the parameter moves no mode.
    std::unique_ptr<PencilReduction> reduced(Tape tape, TracedPencil pencil) const {
        const std::vector<std::string> names(static_cast<size_t>(2 * n_ + 1), "boundary");
        try {
            return std::make_unique<PencilReduction>(reduce(std::move(tape), std::move(pencil), names));
        } catch (const InputError&) {
            return nullptr;
        }
    }
    const BoundaryCache::Entry& record(BoundaryCache::Pencil kind, const std::vector<double>& extra) {
        return cache_.keep({kind, extra, element_, NetworkStructure(network_),
                            kind == BoundaryCache::Pencil::circle ? record_circle(extra[0])
                                                                  : record_ray(extra[0], extra[1])});
    }
    /// Condition of what was inverted; fills `a`.
    double evaluate(const PencilReduction& reduction, const std::vector<double>& extra, Eigen::MatrixXd& a) {
        std::vector<double> given = values_;
        given.insert(given.end(), extra.begin(), extra.end());
        given.resize(reduction.tape.size());
        reduction.tape.run(given.data());
        Eigen::MatrixXd e;
        const double condition = explicit_form(reduction.nonzero, given.data(), e, a);
        return a.allFinite() ? condition : std::numeric_limits<double>::infinity();
    }
    const std::vector<std::complex<double>>& eigenvalues(BoundaryCache::Pencil kind,
                                                         const std::vector<double>& extra) {
        static const std::vector<std::complex<double>> none;
        const BoundaryCache::Entry* entry = cache_.find(kind, extra, element_, network_);
        const bool recorded_before = entry != nullptr;
        if (!recorded_before) entry = &record(kind, extra);
        if (!entry->reduction) return none;
        Eigen::MatrixXd a;
        double condition = evaluate(*entry->reduction, extra, a);
        // Pivots were chosen for the values at hand when it was recorded.
        constexpr double still_good = 1e10;
        if (recorded_before && !(condition < still_good))
            condition = evaluate(*record(kind, extra).reduction, extra, a);
        if (!(condition < 1 / std::numeric_limits<double>::epsilon()))
            throw NumericalError("the pencil of the window's ends is ill conditioned");
        eigen_.compute(a, false);
        return eigen_.eigenvalues();
    }
    /// Adds p = −1/(g·rᵀP(s)⁻¹l) where it is real and within [0, limit].
    void keep(std::vector<double>& out, std::complex<double> s, double limit) {
        Eigen::MatrixXcd p = Eigen::MatrixXcd::Zero(n_, n_);
        for (const auto& t : network_.constant) p(t.row(), t.col()) -= t.value();
        for (size_t k = 0; k < values_.size(); ++k) {
            const Element& e = network_.elements[k];
            if (k == element_) continue;
            for (const auto& [i, a] : e.left)
                for (const auto& [j, b] : e.right) {
                    const std::complex<double> value =
                        e.in_e() ? s * (values_[k] * a * b) : std::complex<double>(values_[k] * a * b);
                    p(i, j) += value;
                    if (e.kind == ElementKind::mutual) p(j, i) += value;
                }
        }
        Eigen::VectorXcd l = Eigen::VectorXcd::Zero(n_);
        const Element& e = network_.elements[element_];
        for (const auto& [i, sign] : e.left) l[i] = sign;
        const Eigen::VectorXcd x = solve(p, l);
        std::complex<double> g = 0;
        for (const auto& [j, sign] : e.right) g += sign * x[j];
        if (e.in_e()) g *= s;
        const std::complex<double> value = -1.0 / g;
        constexpr double real_enough = 1e-2;
        if (!std::isfinite(value.real()) || std::abs(value.imag()) > real_enough * std::abs(value.real()))
            return;
        const double si = e.in_e() ? value.real() / natural : value.real();
        if (si >= 0 && si <= limit) out.push_back(si);
    }

    const Network& network_;
    BoundaryCache& cache_;
    size_t element_;
    std::vector<double> values_;
    int n_;
    SmallEigen eigen_;
};

}  // namespace

std::vector<double> boundary_values(const Network& network, size_t element, double damping,
                                    const Requirement& require, double limit, BoundaryCache* cache) {
    BoundaryCache own;
    BoundaryPencils pencils(network, element, cache != nullptr ? *cache : own);
    std::vector<double> out;
    const auto append = [&out](const std::vector<double>& more) {
        out.insert(out.end(), more.begin(), more.end());
    };
    if (damping > 0) append(pencils.on_ray(damping, limit));
    append(pencils.on_ray(0, limit));
    append(pencils.at_zero(limit));
    for (double edge_hz : {require.band_low_hz, require.band_high_hz})
        append(pencils.on_circle(2 * std::numbers::pi * edge_hz / natural, limit));
    std::sort(out.begin(), out.end());
    return out;
}

}  // namespace ringquell::internal
