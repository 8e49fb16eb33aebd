#include "modes/probe.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "network/reducer.h"
#include "numerics/sparse_lu.h"

namespace ringquell::internal {

namespace {

/// `aside`: how far beside the eigenvalue the iteration shifts, a share of it, so that the factors exist.
EigenProbe iterated(const Network& network, std::complex<double> eigenvalue, const Eigen::VectorXcd& start,
                    double aside) {
    const Eigen::SparseMatrix<double> e = network.e() * natural;
    const Eigen::SparseMatrix<double> a = network.a();
    PencilLu lu(e, a);
    std::complex<double> lambda = eigenvalue / natural;
    const auto norm = [](const Eigen::SparseMatrix<double>& m) { return m.norm(); };
    const double e_norm = norm(e), a_norm = norm(a);
    EigenProbe out;
    Eigen::VectorXcd x = start, y = start;
    // Two steps of inverse iteration reach rounding.
    const std::complex<double> shift = lambda * (1 + aside);
    if (!lu.factor(shift) && !lu.factor(lambda * (1 + 1e-9)))
        throw NumericalError("the pencil is singular at an eigenvalue's neighbour");
    constexpr int steps = 3;
    for (int step = 0; step < steps; ++step) {
        Eigen::VectorXcd next = step == 0 ? x : Eigen::VectorXcd(e * x);
        lu.solve(next);
        x = next.normalized();
        next = step == 0 ? y : Eigen::VectorXcd(e.transpose() * y);
        lu.solve_adjoint(next);
        y = next.normalized();
    }
    const std::complex<double> scale = y.dot(Eigen::VectorXcd(e * x));  // yᴴ·E·x
    const std::complex<double> refined = y.dot(Eigen::VectorXcd(a * x)) / scale;
    if (std::isfinite(refined.real()) && std::isfinite(refined.imag()) &&
        std::abs(refined - lambda) < 1e-4 * std::abs(lambda))
        lambda = refined;
    const Eigen::VectorXcd residual = a * x - lambda * (e * x);
    const double size = a_norm + std::abs(lambda) * e_norm;
    out.backward_error = residual.norm() / (size * x.norm());
    const double condition = size * x.norm() * y.norm() / std::abs(scale);
    out.uncertainty =
        std::max(out.backward_error, std::numeric_limits<double>::epsilon()) * condition * natural;
    out.eigenvalue = lambda * natural;
    out.x = x;
    out.y = y / std::conj(scale);
    return out;
}

}  // namespace

EigenProbe probe(const Network& network, std::complex<double> eigenvalue) {
    Eigen::VectorXcd start(network.size());
    for (Eigen::Index i = 0; i < start.size(); ++i)
        start[i] = 1.0 + 0.37 * std::sin(1.7 * static_cast<double>(i + 1));
    constexpr double next_to_it = 1e-13;
    return iterated(network, eigenvalue, start, next_to_it);
}

EigenProbe probe_from(const Network& network, std::complex<double> eigenvalue,
                      const Eigen::VectorXcd& start) {
    // Far from equal ones' differences in rounding, which would favour one of them.
    constexpr double beside_all_of_them = 1e-7;
    return iterated(network, eigenvalue, start, beside_all_of_them);
}

std::complex<double> derivative(const EigenProbe& probe, const Element& element) {
    const auto left = [&](const Incidence& d) {
        std::complex<double> s = 0;
        for (const auto& [i, sign] : d) s += sign * std::conj(probe.y[i]);
        return s;
    };
    const auto right = [&](const Incidence& d) {
        std::complex<double> s = 0;
        for (const auto& [i, sign] : d) s += sign * probe.x[i];
        return s;
    };
    std::complex<double> product = left(element.left) * right(element.right);
    if (element.kind == ElementKind::mutual) product += left(element.right) * right(element.left);
    // A: −value·l·rᵀ, in 1/ns; E: value·l·rᵀ, λ∂E in 1/s times H or F.
    return element.in_e() ? -probe.eigenvalue * product * natural : -product * natural;
}

}  // namespace ringquell::internal
