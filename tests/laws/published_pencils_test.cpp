// Matrices and pencils with printed eigenvalues, through the reduction and the eigen stage.
//
// Beside each stands its source and how we have it. TBC: community transcription (github Lavitha/Scilab_TBC)
// of the book, read; the book itself was not. docs/checks.md lists all.
#include <doctest/doctest.h>

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "numerics/explicit_form.h"
#include "numerics/pencil_reduction.h"
#include "numerics/small_eigen.h"
#include "support/relative.h"
#include "support/spectrum.h"

using namespace ringquell;
using namespace ringquell::internal;
using Eigen::MatrixXd;

namespace {

MatrixXd matrix(int n, std::initializer_list<double> rows) {
    MatrixXd out(n, n);
    int i = 0;
    for (double x : rows) {
        out(i / n, i % n) = x;
        ++i;
    }
    REQUIRE(i == n * n);
    return out;
}

spectrum::Values eigenvalues(const MatrixXd& a) {
    SmallEigen eigen;
    eigen.compute(a, false);
    return eigen.eigenvalues();
}

struct PencilSpectrum {
    spectrum::Values not_zero;
    int zeros = 0;
};

/// Finite eigenvalues of λ·E·x = A·x.
PencilSpectrum eigenvalues(const MatrixXd& e, const MatrixXd& a) {
    const auto n = static_cast<int>(a.rows());
    Tape tape;
    std::vector<double> inputs;
    TracedPencil pencil(n);
    std::vector<Traced> traced;
    const auto read = [&](const MatrixXd& m, std::vector<TracedPencil::Row>& rows) {
        for (int i = 0; i < n; ++i)
            for (int j = 0; j < n; ++j)
                if (m(i, j) != 0) {
                    inputs.push_back(m(i, j));
                    rows[static_cast<size_t>(i)].emplace(j, tape.input(m(i, j)));
                }
    };
    read(e, pencil.e);
    read(a, pencil.a);
    std::vector<std::string> names;
    for (int i = 0; i < n; ++i) names.push_back("x" + std::to_string(i));
    const PencilReduction reduction = reduce(std::move(tape), std::move(pencil), names);
    std::vector<double> values(reduction.tape.size());
    std::copy(inputs.begin(), inputs.end(), values.begin());
    reduction.tape.run(values.data());
    MatrixXd reduced_e, reduced_a;
    const double condition = explicit_form(reduction.nonzero, values.data(), reduced_e, reduced_a);
    CHECK(condition < 1e12);
    return {eigenvalues(reduced_a), reduction.structural_zeros};
}

/// Of the polynomial s^n + c[n−1]·s^(n−1) + … + c[0], by its companion matrix.
spectrum::Values roots(const std::vector<double>& c) {
    const auto n = static_cast<Eigen::Index>(c.size());
    MatrixXd companion = MatrixXd::Zero(n, n);
    for (Eigen::Index i = 0; i + 1 < n; ++i) companion(i, i + 1) = 1;
    for (Eigen::Index i = 0; i < n; ++i) companion(n - 1, i) = -c[static_cast<size_t>(i)];
    return eigenvalues(companion);
}

/// The one with the largest real part and imaginary part >= 0.
std::complex<double> rightmost(const spectrum::Values& values) {
    return *std::max_element(values.begin(), values.end(), [](auto a, auto b) {
        return a.real() != b.real() ? a.real() < b.real() : a.imag() < b.imag();
    });
}

const std::complex<double> j(0, 1);

}  // namespace

// Check 11. github numericalalgorithmsgroup/LAPACK_Examples, examples/data/dggev3_example.d with
// examples/baseresults/dggev3_example.r, read.
TEST_CASE("the pencil of the LAPACK example for dggev3 has the printed eigenvalues 2, 3 ± 4i, 4") {
    const MatrixXd a = matrix(
        4, {3.9, 12.5, -34.5, -0.5, 4.3, 21.5, -47.5, 7.5, 4.3, 21.5, -43.5, 3.5, 4.4, 26.0, -46.0, 6.0});
    const MatrixXd b = matrix(4, {1, 2, -3, 1, 1, 3, -5, 4, 1, 3, -4, 3, 1, 3, -4, 4});
    const PencilSpectrum found = eigenvalues(b, a);
    CHECK(found.zeros == 0);
    CHECK_SPECTRA(found.not_zero, (spectrum::Values{2.0, 3.0 + 4.0 * j, 3.0 - 4.0 * j, 4.0}), 1e-12);
}

// Check 12. The same, dhgeqz_example.d and .r, read: A(i, j) = i^j, B its transpose.
TEST_CASE("the pencil of the LAPACK example for dhgeqz has the printed eigenvalues") {
    MatrixXd a(5, 5);
    for (int row = 0; row < 5; ++row)
        for (int column = 0; column < 5; ++column) a(row, column) = std::pow(row + 1, column + 1);
    const PencilSpectrum found = eigenvalues(a.transpose(), a);
    CHECK_SPECTRA(
        found.not_zero,
        (spectrum::Values{-2.43666, 0.606864 + 0.794806 * j, 0.606864 - 0.794806 * j, 1.0, -0.410397}), 2e-6);
}

// Check 13. The same, dgeev_example.d and .r, read; ζ derived by us.
TEST_CASE("the unstable matrix of the LAPACK example for dgeev has the printed eigenvalues") {
    const auto found = eigenvalues(matrix(4, {0.35, 0.45, -0.14, -0.17, 0.09, 0.07, -0.54, 0.35, -0.44, -0.33,
                                              -0.03, 0.17, 0.25, -0.32, -0.13, 0.11}));
    CHECK_SPECTRA(
        found, (spectrum::Values{0.799482, -0.0994125 + 0.400792 * j, -0.0994125 - 0.400792 * j, -0.100657}),
        3e-6);
    for (const auto& value : found)
        if (value.imag() > 0) CHECK_RELATIVE(-value.real() / std::abs(value), 0.240745, 3e-6);
}

// Check 14. github python-control/python-control, control/tests/matlab_test.py testDamp, read.
TEST_CASE("natural frequencies and damping ratios are those that python-control prints") {
    const auto found =
        eigenvalues(matrix(4, {-0.2, 0.06, 0, -1, 0, 0, 1, 0, -17, 0, -3.8, 1, 9.4, 0, -0.4, -0.6}));
    std::vector<Mode> modes;
    for (const auto& value : found)
        if (value.imag() >= 0) {
            Mode mode;
            mode.eigenvalue = value;
            modes.push_back(mode);
        }
    std::sort(modes.begin(), modes.end(),
              [](const Mode& a, const Mode& b) { return std::abs(a.eigenvalue) > std::abs(b.eigenvalue); });
    REQUIRE(modes.size() == 3);
    const double two_pi = 2 * std::numbers::pi;
    CHECK_RELATIVE(two_pi * modes[0].natural_frequency_hz(), 4.07381994, 1e-8);
    CHECK_RELATIVE(two_pi * modes[1].natural_frequency_hz(), 3.28874827, 1e-8);
    CHECK_RELATIVE(two_pi * modes[2].natural_frequency_hz(), 1.08937685e-3, 1e-8);
    CHECK_RELATIVE(modes[0].damping_ratio(), 1.0, 1e-15);
    CHECK_RELATIVE(modes[1].damping_ratio(), 0.07983139, 2e-7);
    CHECK_RELATIVE(modes[2].damping_ratio(), 1.0, 1e-15);
}

// Check 16. github SLICOT/SLICOT-Reference, examples/AG08BD.dat and .res, read: A = I, E three nilpotent
// blocks of three; "the system has no finite poles".
TEST_CASE("a pencil with a nilpotent E of index three has no finite eigenvalue") {
    MatrixXd e = MatrixXd::Zero(9, 9);
    for (int row : {1, 2, 4, 5, 7, 8}) e(row, row - 1) = 1;
    const PencilSpectrum found = eigenvalues(e, MatrixXd::Identity(9, 9));
    CHECK(found.not_zero.empty());
    CHECK(found.zeros == 0);
}

// Check 18. The Brusselator in a tube: math.nist.gov, MVMBWM, matrix read, parameters from memory. A = [[τ1·T
// + (β−1)·I, α²·I], [−β·I, τ2·T − α²·I]], T = tridiag(1, −2, 1), τ = δ/(h·L)².
TEST_CASE("the Brusselator matrix has a pair just right of the imaginary axis") {
    constexpr int m = 100;
    constexpr double alpha = 2, beta = 5.45, length = 0.51302;
    const double h = 1.0 / (m + 1);
    const double tau1 = 0.008 / (h * length * h * length), tau2 = 0.004 / (h * length * h * length);
    MatrixXd a = MatrixXd::Zero(2 * m, 2 * m);
    for (int i = 0; i < m; ++i) {
        a(i, i) = -2 * tau1 + beta - 1;
        a(m + i, m + i) = -2 * tau2 - alpha * alpha;
        a(i, m + i) = alpha * alpha;
        a(m + i, i) = -beta;
        if (i == 0) continue;
        a(i, i - 1) = a(i - 1, i) = tau1;
        a(m + i, m + i - 1) = a(m + i - 1, m + i) = tau2;
    }
    const auto found = rightmost(eigenvalues(a));
    CHECK_RELATIVE(found, std::complex<double>(1.81999e-5, 2.13950), 5e-6);
    CHECK_RELATIVE(found.real(), 1.81999e-5, 1e-5);
}

// Check 19. Clement, SIAM Review 1 (1959) 50; Toeplitz: CRAN gallery test-tridiag. Both read.
TEST_CASE("matrices of known spectra: Clement's, and a tridiagonal Toeplitz matrix far from normal") {
    MatrixXd clement = MatrixXd::Zero(8, 8);
    for (int i = 0; i < 7; ++i) {
        clement(i, i + 1) = i + 1;
        clement(i + 1, i) = 7 - i;
    }
    CHECK_SPECTRA(eigenvalues(clement), (spectrum::Values{1.0, -1.0, 3.0, -3.0, 5.0, -5.0, 7.0, -7.0}),
                  1e-13);
    MatrixXd toeplitz = MatrixXd::Zero(50, 50);
    spectrum::Values wanted;
    for (int i = 0; i < 50; ++i) {
        toeplitz(i, i) = 2;
        if (i > 0) {
            toeplitz(i, i - 1) = 10;
            toeplitz(i - 1, i) = 3;
        }
        wanted.emplace_back(2 + 2 * std::sqrt(30.0) * std::cos((i + 1) * std::numbers::pi / 51));
    }
    auto found = eigenvalues(toeplitz);
    const auto rising = [](auto a, auto b) { return a.real() < b.real(); };
    std::sort(found.begin(), found.end(), rising);
    std::sort(wanted.begin(), wanted.end(), rising);
    REQUIRE(found.size() == wanted.size());
    // Its eigenvectors are those of a symmetric matrix scaled by (10/3)^(i/2), so rounding is magnified by up
    // to (10/3)^24.5.
    const double bound = std::numeric_limits<double>::epsilon() * std::pow(10.0 / 3, 24.5) * 12.9337;
    for (size_t k = 0; k < wanted.size(); ++k) CHECK(std::abs(found[k] - wanted[k]) <= bound);
    CHECK_RELATIVE(rightmost(found), std::complex<double>(12.9337), 3e-6);
}

// Check 39. LAPACK Users' Guide, section 4.8, from memory.
TEST_CASE("the badly conditioned matrix of the LAPACK Users' Guide has the eigenvalues 50, 2, 1") {
    // The guide prints condition numbers of up to 1e3; 1e-11 allows for them.
    CHECK_SPECTRA(eigenvalues(matrix(3, {58, 9, 2, 186, 383, 96, -912, -1551, -388})),
                  (spectrum::Values{50.0, 2.0, 1.0}), 1e-11);
}

// Check 9. Manke, Ex 12.16 p. 530 (TBC), read: s⁴ + 2s³ + 10s² + (K − 10)s + K is stable for 13.1 < K < 22.9,
// that is 18 ± 2√6.
TEST_CASE("a fourth-order polynomial is marginal at both ends of the printed range") {
    for (const auto& [gain, w] :
         {std::pair{18 - 2 * std::sqrt(6.0), 1.24519}, std::pair{18 + 2 * std::sqrt(6.0), 2.53958}}) {
        const auto at = rightmost(roots({gain, gain - 10, 10, 2}));
        CHECK(std::abs(at.real()) < 1e-13);
        CHECK_RELATIVE(at.imag(), w, 5e-6);
    }
    CHECK_RELATIVE(18 - 2 * std::sqrt(6.0), 13.1, 1e-3);
    CHECK_RELATIVE(18 + 2 * std::sqrt(6.0), 22.9, 1e-3);
    CHECK(rightmost(roots({13, 3, 10, 2})).real() > 0);
    CHECK(rightmost(roots({18, 8, 10, 2})).real() < 0);
    CHECK(rightmost(roots({23, 13, 10, 2})).real() > 0);
}

// Check 10. Manke 7.24.8, 7.24.7, 7.17.9; Ghosh 10.11 (TBC), read.
TEST_CASE("closed loops are marginal at the printed gains and frequencies") {
    struct Loop {
        std::vector<double> polynomial;
        double w;
    };
    const double r = std::sqrt(6.0);
    for (const Loop& loop :
         {Loop{{12, 3, 4}, 1.73205},                               // s(s + 1)(s + 3), K = 12
          Loop{{48, 8, 6}, 2.82843},                               // s(s + 2)(s + 4), K = 48
          Loop{{32, r * r * r, 3 * 6, 3 * r}, 1.41421},            // 32/[s(s + √6)³]
          Loop{{4.16667 / 0.24, 1 / 0.24, 1 / 0.24}, 2.04124}}) {  // 0.24s³ + s² + s + 4.16667
        const auto at = rightmost(roots(loop.polynomial));
        CHECK(std::abs(at.real()) < 1e-6);
        CHECK_RELATIVE(at.imag(), loop.w, 5e-6);
    }
}
