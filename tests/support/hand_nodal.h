// The nodal admittance matrix of a board at one complex frequency, and the roots of its determinant. Written
// for tests alone, with nothing of the library: std::complex and an elimination of its own.
//
// With the admittance matrix Y(s) of all nodes but the reference "0", and each branch's impedance as a
// quotient n(s)/d(s) of polynomials, P(s) = det Y(s) · Π n(s) is a polynomial: its roots are the natural
// frequencies, and the argument principle counts them. In ohm, S, nH, nF, and s in 1/ns.
#pragma once

#include <cmath>
#include <complex>
#include <functional>
#include <map>
#include <numbers>
#include <string>
#include <vector>

namespace hand_nodal {

using Complex = std::complex<double>;

/// Never divided: a branch at its own resonance has no admittance, but the determinant has its value there.
struct Impedance {
    Complex numerator, denominator;
};
inline Impedance operator+(const Impedance& a, const Impedance& b) {
    return {a.numerator * b.denominator + b.numerator * a.denominator, a.denominator * b.denominator};
}
inline Impedance parallel(const Impedance& a, const Impedance& b) {
    return {a.numerator * b.numerator, a.numerator * b.denominator + b.numerator * a.denominator};
}

/// A number too large or small for a double: phase·e^magnitude, |phase| = 1.
struct Scaled {
    Complex phase = 1;
    double magnitude = 0;
    void times(Complex x) {
        magnitude += std::log(std::abs(x));  // −∞ at a root that is met exactly
        if (x == Complex(0)) return;
        phase *= x / std::abs(x);
        phase /= std::abs(phase);
    }
};
inline Complex quotient(const Scaled& a, const Scaled& b) {
    return a.phase / b.phase * std::exp(a.magnitude - b.magnitude);
}

class Nodal {
  public:
    explicit Nodal(Complex s_per_ns) : s_(s_per_ns) {}

    Impedance r(double ohm) const { return {ohm, 1}; }
    Impedance l(double nh) const { return {s_ * nh, 1}; }
    Impedance c(double nf) const { return {1, s_ * nf}; }

    /// One branch between two nodes.
    void branch(const std::string& a, const std::string& b, const Impedance& z) {
        product_.times(z.numerator);
        const Complex y = z.denominator / z.numerator;
        add(a, a, y);
        add(b, b, y);
        add(a, b, -y);
        add(b, a, -y);
    }
    /// A current siemens·v(plus, minus) from a to b.
    void source(const std::string& a, const std::string& b, const std::string& plus, const std::string& minus,
                double siemens) {
        add(a, plus, siemens);
        add(a, minus, -siemens);
        add(b, plus, -siemens);
        add(b, minus, siemens);
    }
    /// P(s), by Gaussian elimination with row pivots.
    Scaled determinant() const {
        const size_t n = numbers_.size();
        std::vector<std::vector<Complex>> y(n, std::vector<Complex>(n));
        for (const auto& [place, value] : entries_) y[place.first][place.second] = value;
        Scaled out = product_;
        for (size_t k = 0; k < n; ++k) {
            size_t pivot = k;
            for (size_t i = k + 1; i < n; ++i)
                if (std::abs(y[i][k]) > std::abs(y[pivot][k])) pivot = i;
            if (pivot != k) {
                std::swap(y[pivot], y[k]);
                out.times(-1);
            }
            out.times(y[k][k]);
            for (size_t i = k + 1; i < n; ++i) {
                if (y[i][k] == Complex(0) || y[k][k] == Complex(0)) continue;
                const Complex factor = y[i][k] / y[k][k];
                for (size_t j = k; j < n; ++j)
                    if (y[k][j] != Complex(0)) y[i][j] -= factor * y[k][j];
            }
        }
        return out;
    }

  private:
    void add(const std::string& row, const std::string& column, Complex value) {
        if (row == "0" || column == "0") return;
        entries_[{node(row), node(column)}] += value;
    }
    size_t node(const std::string& name) { return numbers_.try_emplace(name, numbers_.size()).first->second; }

    Complex s_;
    std::map<std::string, size_t> numbers_;
    std::map<std::pair<size_t, size_t>, Complex> entries_;
    Scaled product_;
};

/// P at s in rad/s.
using Polynomial = std::function<Scaled(Complex)>;

/// Newton's iteration for a root of known multiplicity, P' by a central difference.
inline Complex root_from(const Polynomial& p, Complex start, int multiplicity) {
    Complex s = start;
    for (int k = 0; k < 40; ++k) {
        const Complex h = 1e-6 * s;
        const Scaled here = p(s);
        if (std::isinf(here.magnitude)) break;
        const Complex slope = (quotient(p(s + h), here) - quotient(p(s - h), here)) / (2.0 * h);
        const Complex step = static_cast<double>(multiplicity) / slope;
        s -= step;
        if (std::abs(step) < 1e-10 * std::abs(s)) break;
    }
    return s;
}

/// Change of the argument of P along the arc |s| = radius between two angles, by halves until each is small.
inline double argument_change(const Polynomial& p, double radius, double from, double to,
                              const Scaled& at_from, const Scaled& at_to) {
    const double middle = 0.5 * (from + to);
    const Scaled at_middle = p(std::polar(radius, middle));
    const double first = std::arg(at_middle.phase / at_from.phase),
                 second = std::arg(at_to.phase / at_middle.phase);
    constexpr double small = 0.4;  // rad
    if (std::abs(first) < small && std::abs(second) < small) return first + second;
    return argument_change(p, radius, from, middle, at_from, at_middle) +
           argument_change(p, radius, middle, to, at_middle, at_to);
}

/// Roots within |s| < radius, by the argument principle on the upper half circle: P is real on the real axis,
/// and the lower half turns as far.
inline double roots_within(const Polynomial& p, double radius) {
    constexpr int pieces = 64;
    double turned = 0;
    Scaled at = p(radius);
    for (int k = 1; k <= pieces; ++k) {
        const double from = std::numbers::pi * (k - 1) / pieces, to = std::numbers::pi * k / pieces;
        const Scaled next = p(std::polar(radius, to));
        turned += argument_change(p, radius, from, to, at, next);
        at = next;
    }
    return turned / std::numbers::pi;
}

}  // namespace hand_nodal
