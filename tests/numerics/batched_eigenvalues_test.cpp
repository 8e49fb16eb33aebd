#include "numerics/batched_eigenvalues.h"

#include <doctest/doctest.h>

#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <cstring>
#include <limits>
#include <numbers>
#include <random>
#include <stdexcept>
#include <vector>

#include "support/dense.h"

using ringquell::internal::BatchedEigenvalues;
using ringquell::internal::LaneStatus;

namespace {

using Kernel = BatchedEigenvalues::Kernel;
using Matrix = Eigen::MatrixXd;
using Spectrum = std::vector<std::complex<double>>;
constexpr int lanes = BatchedEigenvalues::lanes;

struct Result {
    std::array<LaneStatus, lanes> status;
    std::vector<double> real, imag;

    Spectrum spectrum(int lane) const {
        Spectrum values;
        for (std::size_t e = static_cast<std::size_t>(lane); e < real.size(); e += lanes)
            values.emplace_back(real[e], imag[e]);
        return values;
    }
};

/// The matrices (all of one size, at most `lanes`) in lanes 0, 1, …; zeros in the rest.
Result solve(const std::vector<Matrix>& matrices, BatchedEigenvalues& solver) {
    const std::size_t n = static_cast<std::size_t>(solver.size());
    std::vector<double> packed(n * n * lanes, 0.0);
    for (std::size_t lane = 0; lane < matrices.size(); ++lane)
        for (std::size_t e = 0; e < n * n; ++e) packed[e * lanes + lane] = matrices[lane].data()[e];
    Result result{{}, std::vector<double>(n * lanes), std::vector<double>(n * lanes)};
    result.status = solver.solve(packed.data(), result.real.data(), result.imag.data());
    return result;
}
Result solve(const std::vector<Matrix>& matrices) {
    BatchedEigenvalues solver(static_cast<int>(matrices.front().rows()));
    return solve(matrices, solver);
}
Spectrum eigenvalues(const Matrix& matrix) {
    const Result result = solve({matrix});
    REQUIRE(result.status[0] == LaneStatus::converged);
    return result.spectrum(0);
}

/// Largest distance when each of `found` takes the nearest of `expected` that is left.
double distance(const Spectrum& found, Spectrum expected) {
    REQUIRE(found.size() == expected.size());
    double largest = 0;
    for (const auto& value : found) {
        const auto nearest = std::min_element(expected.begin(), expected.end(), [&](auto a, auto b) {
            return std::abs(a - value) < std::abs(b - value);
        });
        largest = std::max(largest, std::abs(*nearest - value));
        expected.erase(nearest);
    }
    return largest;
}
Spectrum by_eigen(const Matrix& matrix) {
    const Eigen::VectorXcd values = dense::eigenvalues(matrix);
    return {values.begin(), values.end()};
}
Spectrum reals(const std::vector<double>& values) {
    return {values.begin(), values.end()};
}

Matrix random_matrix(int n, std::mt19937_64& random) {
    std::normal_distribution<double> normal;
    return Matrix::NullaryExpr(n, n, [&] { return normal(random); });
}

/// The same bits, −0 and NaN included.
bool identical(const Spectrum& a, const Spectrum& b) {
    return a.size() == b.size() && std::memcmp(a.data(), b.data(), a.size() * sizeof a[0]) == 0;
}

Matrix clement(int n) {
    Matrix a = Matrix::Zero(n, n);
    for (int k = 0; k + 1 < n; ++k) {
        a(k, k + 1) = k + 1;
        a(k + 1, k) = n - 1 - k;
    }
    return a;
}

}  // namespace

TEST_CASE("random matrices of every size have the eigenvalues that Eigen finds, on every kernel") {
    std::mt19937_64 random(1);
    for (int n = 1; n <= 40; ++n) {
        std::vector<Matrix> matrices;
        for (int lane = 0; lane < lanes; ++lane) matrices.push_back(random_matrix(n, random));
        for (const Kernel kernel : {Kernel::baseline, Kernel::avx2, Kernel::avx512}) {
            if (!BatchedEigenvalues::available(kernel)) continue;
            BatchedEigenvalues solver(n);
            solver.set_kernel(kernel);
            const Result result = solve(matrices, solver);
            for (std::size_t lane = 0; lane < lanes; ++lane) {
                CAPTURE(n);
                CAPTURE(lane);
                REQUIRE(result.status[lane] == LaneStatus::converged);
                const double error =
                    distance(result.spectrum(static_cast<int>(lane)), by_eigen(matrices[lane]));
                CHECK(error <= 1e-12 * matrices[lane].norm());
            }
        }
    }
}

TEST_CASE("normal matrices, whose eigenvalues are perfectly conditioned, are exact to rounding") {
    std::mt19937_64 random(2);
    for (int n : {3, 8, 25, 40}) {
        const Matrix g = random_matrix(n, random);
        const Matrix symmetric = g + g.transpose();
        CHECK(distance(eigenvalues(symmetric), by_eigen(symmetric)) <= 2e-15 * n * symmetric.norm());
        const Matrix skew = g - g.transpose();
        const Spectrum values = eigenvalues(skew);
        for (const auto& value : values) CHECK(std::abs(value.real()) <= 2e-15 * n * skew.norm());
        const Matrix orthogonal = dense::orthogonal(g);
        for (const auto& value : eigenvalues(orthogonal)) CHECK(std::abs(std::abs(value) - 1) <= 1e-15 * n);
    }
}

TEST_CASE("trace and sum of squares are those of the matrix") {
    std::mt19937_64 random(3);
    const Matrix a = random_matrix(60, random);
    std::complex<double> trace = 0, squares = 0;
    for (const auto& value : eigenvalues(a)) {
        trace += value;
        squares += value * value;
    }
    CHECK(std::abs(trace - a.trace()) <= 1e-14 * 60 * a.norm());
    CHECK(std::abs(squares - (a * a).trace()) <= 1e-14 * 60 * a.squaredNorm());
}

// P. A. Clement, A class of triple-diagonal matrices for test purposes, SIAM Review 1 (1959) 50.
TEST_CASE("Clement's matrix of order 8 has eigenvalues ±1, ±3, ±5, ±7") {
    CHECK(distance(eigenvalues(clement(8)), reals({-7, -5, -3, -1, 1, 3, 5, 7})) <= 1e-13);
}

// Eigenvalues d + 2 √(c e) cos(k π / (n + 1)) of the tridiagonal Toeplitz matrix (c, d, e): N. J. Higham, The
// Test Matrix Toolbox for MATLAB, tridiag. Rows and columns have equal sums, so that balancing changes
// nothing, and the condition numbers reach 1e12: with D = diag((c/e)^(i/2)) and u the eigenvector for c = e,
// κ = |D u| |D⁻¹ u|.
TEST_CASE("the tridiagonal Toeplitz matrix (10, 2, 3) of order 50 has 2 + 2 √30 cos(k π / 51)") {
    const int n = 50;
    Matrix a = 2 * Matrix::Identity(n, n);
    for (int k = 0; k + 1 < n; ++k) {
        a(k + 1, k) = 10;
        a(k, k + 1) = 3;
    }
    Matrix symmetric = 2 * Matrix::Identity(n, n);
    symmetric.diagonal(1).setConstant(std::sqrt(30.0));
    symmetric.diagonal(-1).setConstant(std::sqrt(30.0));
    Spectrum expected;
    double condition = 0;
    for (int k = 1; k <= n; ++k) {
        const double angle = k * std::numbers::pi / (n + 1);
        expected.emplace_back(2 + 2 * std::sqrt(30.0) * std::cos(angle));
        double grown = 0, shrunk = 0;  // squares of |D u|, |D⁻¹ u|
        for (int i = 1; i <= n; ++i) {
            const double u = std::sqrt(2.0 / (n + 1)) * std::sin(i * angle);
            grown += u * u * std::pow(10.0 / 3, i);
            shrunk += u * u * std::pow(10.0 / 3, -i);
        }
        condition = std::max(condition, std::sqrt(grown * shrunk));
    }
    CHECK(distance(eigenvalues(symmetric), expected) <= 1e-13);
    CHECK(distance(eigenvalues(a), expected) <= 1e-15 * condition * a.norm());
}

// E. Anderson et al., LAPACK Users' Guide, 3rd ed., §4.8 (matrix quoted from memory, not looked up). The
// condition numbers of 50, 2 and 1, computed with Eigen, are 7, 2155 and 2150.
TEST_CASE("the LAPACK Users' Guide's ill-conditioned matrix of order 3 has 50, 2 and 1") {
    Matrix a(3, 3);
    a << 58, 9, 2, 186, 383, 96, -912, -1551, -388;
    // The characteristic polynomial, in exact integers, is that of 50, 2, 1: λ³ − 53 λ² + 152 λ − 100.
    const double trace = 58 + 383 - 388;
    const double minors = (58.0 * 383 - 9 * 186) + (58.0 * -388 + 2 * 912) + (383.0 * -388 + 96 * 1551);
    const double determinant =
        58 * (383.0 * -388 + 96 * 1551) - 9 * (186.0 * -388 + 96 * 912) + 2 * (186.0 * -1551 + 383 * 912);
    CHECK(trace == 53);
    CHECK(minors == 152);
    CHECK(determinant == 100);
    CHECK(distance(eigenvalues(a), reals({50, 2, 1})) <= 1e-16 * 2155 * a.norm());
}

TEST_CASE("a companion matrix gives the roots its polynomial was expanded from") {
    // (x − 1)(x − 2)(x − 3)(x² + 2x + 5)
    Matrix companion = Matrix::Zero(5, 5);
    std::vector<double> polynomial{1};
    for (const std::vector<double>& factor :
         std::vector<std::vector<double>>{{1, -1}, {1, -2}, {1, -3}, {1, 2, 5}}) {
        std::vector<double> product(polynomial.size() + factor.size() - 1, 0.0);
        for (std::size_t i = 0; i < polynomial.size(); ++i)
            for (std::size_t j = 0; j < factor.size(); ++j) product[i + j] += polynomial[i] * factor[j];
        polynomial = product;
    }
    for (int k = 0; k < 5; ++k) companion(0, k) = -polynomial[static_cast<std::size_t>(k) + 1];
    for (int k = 0; k < 4; ++k) companion(k + 1, k) = 1;
    CHECK(distance(eigenvalues(companion), {1, 2, 3, {-1, 2}, {-1, -2}}) <= 1e-12);
}

TEST_CASE("triangular and zero matrices give their diagonal exactly, a permutation the roots of unity") {
    std::mt19937_64 random(4);
    const Matrix upper = random_matrix(12, random).triangularView<Eigen::Upper>();
    const Eigen::VectorXd diagonal = upper.diagonal();
    const Spectrum expected(diagonal.begin(), diagonal.end());
    BatchedEigenvalues solver(12);
    CHECK(distance(solve({upper}, solver).spectrum(0), expected) == 0);
    // There is no permutation to triangular form, so that rounding meets the conditions of the eigenvalues.
    CHECK(distance(eigenvalues(upper.transpose()), expected) <= 1e-12 * upper.norm());
    CHECK(distance(eigenvalues(Matrix::Zero(12, 12)), Spectrum(12)) == 0);

    Matrix cycle = Matrix::Zero(12, 12);  // plain QR stands still on it; shifts have to break the symmetry
    for (int k = 0; k < 12; ++k) cycle((k + 1) % 12, k) = 1;
    Spectrum roots;
    for (int k = 0; k < 12; ++k) roots.push_back(std::polar(1.0, 2 * std::numbers::pi * k / 12));
    CHECK(distance(eigenvalues(cycle), roots) <= 1e-14);
}

TEST_CASE("a defective eigenvalue of multiplicity m is found to the m-th root of rounding") {
    for (int m : {2, 3, 5}) {
        Matrix jordan = 2 * Matrix::Identity(m, m);
        for (int k = 0; k + 1 < m; ++k) jordan(k, k + 1) = 1;
        std::mt19937_64 random(5);
        const Matrix q = dense::orthogonal(random_matrix(m, random));
        const double allowed = 4 * std::pow(1e-15, 1.0 / m);
        CHECK(distance(eigenvalues(q * jordan * q.transpose()), Spectrum(static_cast<std::size_t>(m), 2.0)) <=
              allowed);
    }
}

TEST_CASE("a semisimple multiple eigenvalue is found to rounding") {
    std::mt19937_64 random(6);
    Eigen::VectorXd values(9);
    values << 3, 3, 3, 3, -1, -1, 5, 7, 7;
    const Matrix q = dense::orthogonal(random_matrix(9, random));
    const Spectrum expected(values.begin(), values.end());
    CHECK(distance(eigenvalues(q * values.asDiagonal() * q.transpose()), expected) <= 1e-13);
}

TEST_CASE("balancing undoes a bad scaling, rows and columns from 1e-6 to 1e6") {
    std::mt19937_64 random(7);
    std::uniform_int_distribution<int> exponent(-20, 20);
    for (int n : {5, 12, 25}) {
        const Matrix a = random_matrix(n, random);
        const Eigen::VectorXd d =
            Eigen::VectorXd::NullaryExpr(n, [&] { return std::ldexp(1.0, exponent(random)); });
        const Matrix scaled = d.asDiagonal() * a * d.cwiseInverse().asDiagonal();
        CHECK(distance(eigenvalues(scaled), by_eigen(a)) <= 1e-12 * a.norm());
    }
}

TEST_CASE("scaling the matrix by a power of two scales its eigenvalues exactly, far towards both ends") {
    std::mt19937_64 random(8);
    const Matrix a = random_matrix(9, random);
    Spectrum expected = eigenvalues(a);
    for (const double scale : {0x1p-900, 0x1p-40, 0x1p60, 0x1p900}) {
        Spectrum scaled = expected;
        for (auto& value : scaled) value *= scale;
        CHECK(identical(eigenvalues(scale * a), scaled));
    }
}

TEST_CASE("a lane's result is the same bits in any lane, beside any others, on every kernel") {
    std::mt19937_64 random(9);
    for (int n : {2, 7, 16, 25}) {
        Matrix split = random_matrix(n, random);
        split.bottomLeftCorner(n / 2, n - n / 2).setZero();
        Matrix sparse = random_matrix(n, random);
        for (double& entry : sparse.reshaped()) entry = std::abs(entry) < 1 ? 0 : entry;
        Matrix bad = random_matrix(n, random);
        bad(n - 1, 0) = std::numeric_limits<double>::quiet_NaN();
        const std::vector<Matrix> matrices{random_matrix(n, random),
                                           split,
                                           sparse,
                                           clement(n),
                                           bad,
                                           Matrix::Zero(n, n),
                                           1e-5 * split.transpose(),
                                           random_matrix(n, random)};
        for (std::size_t chosen = 0; chosen < lanes; ++chosen) {
            BatchedEigenvalues solver(n);
            solver.set_kernel(Kernel::baseline);
            const Spectrum alone = solve({matrices[chosen]}, solver).spectrum(0);
            for (const Kernel kernel : {Kernel::baseline, Kernel::avx2, Kernel::avx512}) {
                if (!BatchedEigenvalues::available(kernel)) continue;
                solver.set_kernel(kernel);
                std::vector<Matrix> turned = matrices;
                for (int turn = 0; turn < lanes; ++turn) {
                    const auto place = (chosen + lanes - static_cast<std::size_t>(turn)) % lanes;
                    CAPTURE(n);
                    CAPTURE(chosen);
                    CAPTURE(turn);
                    CHECK(identical(solve(turned, solver).spectrum(static_cast<int>(place)), alone));
                    std::rotate(turned.begin(), turned.begin() + 1, turned.end());
                }
            }
        }
    }
}

TEST_CASE("a lane with NaN or infinity says so, gives NaN, and leaves the others alone") {
    std::mt19937_64 random(10);
    const Matrix good = random_matrix(10, random);
    Matrix nan = good, infinite = good;
    nan(3, 4) = std::numeric_limits<double>::quiet_NaN();
    infinite(9, 0) = -std::numeric_limits<double>::infinity();
    const Result result = solve({nan, good, infinite});
    CHECK(result.status[0] == LaneStatus::not_finite);
    CHECK(result.status[1] == LaneStatus::converged);
    CHECK(result.status[2] == LaneStatus::not_finite);
    CHECK(std::isnan(result.spectrum(0)[0].real()));
    CHECK(identical(result.spectrum(1), eigenvalues(good)));
}

TEST_CASE("entries near overflow end, whatever the status") {
    const Matrix huge = Matrix::Constant(6, 6, 1e308);
    const Result result = solve({huge, -huge, 0.9 * huge});
    for (const LaneStatus status : result.status)
        CHECK((status == LaneStatus::converged || status == LaneStatus::iteration_limit));
}

TEST_CASE("complex pairs stand together, positive imaginary part first") {
    std::mt19937_64 random(11);
    const Spectrum values = eigenvalues(random_matrix(30, random));
    for (std::size_t k = 0; k < values.size(); ++k) {
        if (values[k].imag() == 0) continue;
        REQUIRE(k + 1 < values.size());
        CHECK(values[k].imag() > 0);
        CHECK(values[k + 1] == std::conj(values[k]));
        ++k;
    }
}

TEST_CASE("a size below 1 is refused") {
    CHECK_THROWS_WITH_AS(BatchedEigenvalues(0), "BatchedEigenvalues: n = 0, must be at least 1",
                         std::invalid_argument);
}
