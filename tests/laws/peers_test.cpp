// Two ways to the same eigenvalues on random cases: whole network and blocks, ours and LAPACK's dggev; and
// states counted by how the determinant grows.
#include <doctest/doctest.h>
#include <lapacke.h>

#include <Eigen/Dense>
#include <cmath>
#include <numbers>

#include "network/reducer.h"
#include "ringquell/network.h"
#include "support/random_case.h"
#include "support/spectrum.h"

using namespace ringquell;
using namespace ringquell::internal;
using random_case::Generator;

namespace {

/// E and A of a network in ns, nH, nF, ohm.
struct Pencil {
    Eigen::MatrixXd e, a;
};
Pencil pencil_of(const Network& network) {
    return {Eigen::MatrixXd(network.e()) * 1e9, Eigen::MatrixXd(network.a())};
}

/// Eigenvalues of λ·E·x = A·x by LAPACK's QZ, in rad/s; infinite ones left out, but not those that rounding
/// made finite.
spectrum::Values by_dggev(const Pencil& pencil) {
    const auto n = static_cast<lapack_int>(pencil.a.rows());
    Eigen::MatrixXd a = pencil.a, e = pencil.e;
    Eigen::VectorXd real(n), imaginary(n), beta(n);
    REQUIRE(LAPACKE_dggev(LAPACK_COL_MAJOR, 'N', 'N', n, a.data(), n, e.data(), n, real.data(),
                          imaginary.data(), beta.data(), nullptr, 1, nullptr, 1) == 0);
    spectrum::Values out;
    for (Eigen::Index k = 0; k < n; ++k)
        if (beta[k] != 0) out.emplace_back(1e9 * real[k] / beta[k], 1e9 * imaginary[k] / beta[k]);
    return out;
}

/// Degree in s of det(sE − A) as it grows round |s| = r (1/ns): the eigenvalues inside, provided that none is
/// near. In extended precision.
double degree(const Pencil& pencil, double r) {
    using Complex = std::complex<long double>;
    using Matrix = Eigen::Matrix<Complex, Eigen::Dynamic, Eigen::Dynamic>;
    const auto logarithm = [&](long double radius) {
        const Complex s = std::polar(radius, 1.1L);
        Matrix m = s * pencil.e.cast<Complex>() - pencil.a.cast<Complex>();
        long double sum = 0;
        for (Eigen::Index i = 0; i < m.rows(); ++i) {  // rows scaled, so that pivots are chosen well
            const long double largest = m.row(i).cwiseAbs().maxCoeff();
            sum += std::log(largest);
            m.row(i) /= largest;
        }
        const Eigen::FullPivLU<Matrix> lu(m);
        for (Eigen::Index i = 0; i < m.rows(); ++i) sum += std::log(std::abs(lu.matrixLU()(i, i)));
        return sum;
    };
    return static_cast<double>((logarithm(2.0L * r) - logarithm(r)) / std::numbers::ln2_v<long double>);
}

}  // namespace

TEST_CASE(
    "whole network and blocks agree where positions are alike: eigenvalues, how often each occurs, and "
    "kinds") {
    Generator generator(201);
    for (int k = 0; k < 60; ++k) {
        const Case input = generator.make({1 + k % 6, true, k % 5 != 0});
        CAPTURE(k);
        for (const OperatingPoint& at : operating_path(input).points) {
            CAPTURE(at.name);
            const Modes blocks = spectrum::solve(input, at, Method::blocks),
                        whole = spectrum::solve(input, at, Method::whole);
            CHECK(blocks.states == whole.states);
            CHECK(blocks.structural_zeros == whole.structural_zeros);
            // Rounding is a share of the largest eigenvalues, so slow ones, below the band, are known to
            // fewer digits.
            const auto a = spectrum::of(blocks.modes), b = spectrum::of(whole.modes);
            CHECK_SPECTRA(spectrum::between(a, 1e6, 1e300), spectrum::between(b, 1e6, 1e300), 1e-6);
            CHECK_SPECTRA(spectrum::between(a, 0, 1e6), spectrum::between(b, 0, 1e6), 1e-5);
            // Kinds, where no eigenvalue of the other kind is so near that rounding mixes the two.
            for (const Mode& mode : blocks.modes) {
                if (!mode.oscillates() || !in_band(mode, input.require)) continue;
                const auto near = [&](const Mode& other) {
                    return std::abs(other.eigenvalue - mode.eigenvalue) < 1e-4 * std::abs(mode.eigenvalue);
                };
                if (std::any_of(blocks.modes.begin(), blocks.modes.end(),
                                [&](const Mode& other) { return other.kind != mode.kind && near(other); }))
                    continue;
                for (const Mode& other : whole.modes)
                    if (near(other) && other.oscillates()) {
                        CAPTURE(mode.eigenvalue);
                        CHECK(other.kind == mode.kind);
                        if (spectrum::distance({mode.eigenvalue}, {other.eigenvalue}) < 1e-7)
                            CHECK(std::abs(other.common_share - mode.common_share) < 1e-5);
                    }
            }
        }
    }
}

TEST_CASE("LAPACK's dggev finds the same eigenvalues in the band") {
    Generator generator(202);
    for (int k = 0; k < 40; ++k) {
        const Case input = generator.make({1 + k % 4, k % 2 == 0, true});
        CAPTURE(k);
        for (const OperatingPoint& at : operating_path(input).points) {
            CAPTURE(at.name);
            const double low = 2 * std::numbers::pi * 1e6, high = 2 * std::numbers::pi * 1e9;
            const auto ours = spectrum::of(spectrum::solve(input, at, Method::whole).modes);
            const auto theirs = by_dggev(pencil_of(build_network(input, at)));
            // QZ on the whole pencil leaves infinite eigenvalues as large finite ones: each of ours must be
            // there, and in the band there must be no other.
            for (const auto& value : spectrum::between(ours, low, high)) {
                double nearest = 1;
                for (const auto& candidate : theirs)
                    nearest = std::min(nearest, relative_difference(candidate, value));
                CAPTURE(value);
                CHECK(nearest < 1e-6);
            }
            CHECK(spectrum::between(ours, low, high).size() == spectrum::between(theirs, low, high).size());
        }
    }
}

TEST_CASE("the states are as many as the determinant's degree, the structural zeros as its roots at zero") {
    Generator generator(203);
    for (int k = 0; k < 40; ++k) {
        const Case input = generator.make({1 + k % 3, k % 2 == 0, k % 4 != 3});
        CAPTURE(k);
        for (const OperatingPoint& at : operating_path(input).points) {
            CAPTURE(at.name);
            const Network network = build_network(input, at);
            Reducer reducer(network);
            reducer.evaluate(network);
            const auto values = spectrum::of(spectrum::solve(input, at, Method::whole).modes);
            REQUIRE(!values.empty());
            double smallest = 1e300, largest = 0;
            for (const auto& value : values) {
                smallest = std::min(smallest, std::abs(value) / 1e9);
                largest = std::max(largest, std::abs(value) / 1e9);
            }
            const Pencil pencil = pencil_of(network);
            const double states = static_cast<double>(reducer.a().rows());
            CHECK(std::abs(degree(pencil, 1e4 * largest) - (states + reducer.structural_zeros())) < 0.1);
            CHECK(std::abs(degree(pencil, 1e-4 * smallest) - reducer.structural_zeros()) < 0.1);
        }
    }
}
