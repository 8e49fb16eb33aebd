// Modified nodal analysis by hand, for tests alone: nothing of it is shared with src/network*.
//
// Unknowns: every node's voltage (node "0" is ground) and every inductor's current. Row of a node: the
// currents that leave it sum to zero; row of an inductor: L·di/dt (+ M·di'/dt) = v(a) − v(b). Everything is
// dense, and in ns, nH, nF, ohm.
#pragma once

#include <Eigen/Core>
#include <complex>
#include <map>
#include <string>
#include <vector>

#include "support/dense.h"

class HandMna {
  public:
    /// From a to b, in ohm; zero is refused by the caller's not calling it.
    void r(const std::string& a, const std::string& b, double ohm) {
        conductances_.push_back({node(a), node(b), 1 / ohm});
    }
    void g(const std::string& a, const std::string& b, double siemens) {
        conductances_.push_back({node(a), node(b), siemens});
    }
    void c(const std::string& a, const std::string& b, double farad) {
        capacitances_.push_back({node(a), node(b), farad * 1e9});
    }
    /// Current siemens·v(p, q) from a to b.
    void gm(const std::string& a, const std::string& b, const std::string& p, const std::string& q,
            double siemens) {
        sources_.push_back({node(a), node(b), node(p), node(q), siemens});
    }
    /// Its current runs from a to b. Returns its number, for m().
    int l(const std::string& a, const std::string& b, double henry) {
        inductors_.push_back({node(a), node(b), henry * 1e9});
        return static_cast<int>(inductors_.size()) - 1;
    }
    void m(int first, int second, double henry) { mutuals_.push_back({first, second, henry * 1e9}); }
    /// Resistance and inductance in series.
    int rl(const std::string& a, const std::string& b, double ohm, double henry) {
        const std::string middle = "inside " + std::to_string(inner_++);
        r(a, middle, ohm);
        return l(middle, b, henry);
    }
    void rc(const std::string& a, const std::string& b, double ohm, double farad) {
        const std::string middle = "inside " + std::to_string(inner_++);
        r(a, middle, ohm);
        c(middle, b, farad);
    }
    int rlc(const std::string& a, const std::string& b, double ohm, double henry, double farad) {
        const std::string middle = "inside " + std::to_string(inner_++);
        c(a, middle, farad);
        return rl(middle, b, ohm, henry);
    }

    /// Finite eigenvalues between the bounds, rad/s, by (A − σE)⁻¹E in extended precision: infinite ones
    /// become zero there.
    std::vector<std::complex<double>> eigenvalues(double low, double high) const {
        using Real = dense::Extended;
        using Matrix = dense::ExtendedMatrix;
        const auto nodes = static_cast<Eigen::Index>(numbers_.size());
        const auto n = nodes + static_cast<Eigen::Index>(inductors_.size());
        Matrix e = Matrix::Zero(n, n), a = Matrix::Zero(n, n);
        const auto two = [](Matrix& matrix, int p, int q, int s, int t, Real value) {  // (p − q)(s − t)ᵀ
            if (p >= 0 && s >= 0) matrix(p, s) += value;
            if (p >= 0 && t >= 0) matrix(p, t) -= value;
            if (q >= 0 && s >= 0) matrix(q, s) -= value;
            if (q >= 0 && t >= 0) matrix(q, t) += value;
        };
        for (const Branch& x : capacitances_) two(e, x.a, x.b, x.a, x.b, x.value);
        for (const Branch& x : conductances_) two(a, x.a, x.b, x.a, x.b, -x.value);
        for (const Source& x : sources_) two(a, x.a, x.b, x.p, x.q, -x.value);
        for (size_t k = 0; k < inductors_.size(); ++k) {
            const auto row = nodes + static_cast<Eigen::Index>(k);
            e(row, row) += inductors_[k].value;
            if (inductors_[k].a >= 0) {
                a(row, inductors_[k].a) += 1;
                a(inductors_[k].a, row) -= 1;
            }
            if (inductors_[k].b >= 0) {
                a(row, inductors_[k].b) -= 1;
                a(inductors_[k].b, row) += 1;
            }
        }
        for (const Branch& x : mutuals_) {
            e(nodes + x.a, nodes + x.b) += x.value;
            e(nodes + x.b, nodes + x.a) += x.value;
        }
        const Real shift = 0.7310585L;  // 1/ns, on the right and no eigenvalue of any circuit here
        const auto inverted = dense::inverted_eigenvalues(e, a, shift);
        std::vector<std::complex<double>> out;
        for (Eigen::Index k = 0; k < n; ++k) {
            const std::complex<Real> mu = inverted[k];
            if (std::abs(mu) == 0) continue;
            const std::complex<Real> lambda = (Real(1) / mu + shift) * Real(1e9);
            if (std::abs(lambda) >= low && std::abs(lambda) <= high)
                out.emplace_back(static_cast<double>(lambda.real()), static_cast<double>(lambda.imag()));
        }
        return out;
    }

  private:
    struct Branch {
        int a, b;
        double value;
    };
    struct Source {
        int a, b, p, q;
        double value;
    };
    int node(const std::string& name) {
        if (name == "0") return -1;
        return numbers_.try_emplace(name, static_cast<int>(numbers_.size())).first->second;
    }

    std::map<std::string, int> numbers_;
    std::vector<Branch> capacitances_, conductances_, inductors_, mutuals_;
    std::vector<Source> sources_;
    int inner_ = 0;
};
