// Every resistance that can bound an uneven layout's windows: against matrices with chosen eigenvalues, a
// dense scan, and the adaptive search.
#include "numerics/pair_pencil.h"

#include <doctest/doctest.h>

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <complex>
#include <functional>
#include <limits>

#include "ringquell/acceptable.h"
#include "ringquell/operating_path.h"
#include "support/dense.h"
#include "support/random_case.h"
#include "support/relative.h"

using namespace ringquell;
using namespace ringquell::internal;
using random_case::Generator;

namespace {

Eigen::MatrixXd random_matrix(Generator& g, Eigen::Index rows, Eigen::Index columns) {
    Eigen::MatrixXd out(rows, columns);
    for (Eigen::Index j = 0; j < columns; ++j)
        for (Eigen::Index i = 0; i < rows; ++i) out(i, j) = 2 * g.uniform() - 1;
    return out;
}

/// A(r) = a − r·b·c as the family about the base that the code would choose.
ResistiveFamily family(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b, const Eigen::MatrixXd& c,
                       double limit) {
    auto out = resistive_family([&](double r) { return Eigen::MatrixXd(a - r * b * c); }, limit);
    REQUIRE(out);
    return *out;
}

/// Where the `distance` of some pair changes its sign as r runs over [0, limit]: a scan with bisection that
/// follows counts of single eigenvalues and knows nothing of pairs. A pair that meets the real axis changes a
/// count, too, but no eigenvalue is then at distance zero.
std::vector<double> scanned(const ResistiveFamily& f, double limit,
                            const std::function<double(std::complex<double>)>& distance) {
    const auto eigenvalues = [&](double r) { return dense::eigenvalues(f.base - (r - f.at) * f.b * f.c); };
    const auto count = [&](double r) {
        const Eigen::VectorXcd lambda = eigenvalues(r);
        return std::count_if(lambda.begin(), lambda.end(),
                             [&](std::complex<double> l) { return l.imag() > 0 && distance(l) > 0; });
    };
    const auto closest = [&](double r) {
        double out = std::numeric_limits<double>::infinity();
        for (const std::complex<double>& l : eigenvalues(r))
            if (l.imag() > 0) out = std::min(out, std::abs(distance(l)));
        return out;
    };
    constexpr int steps = 4000;
    std::vector<double> out;
    double before = 0;
    auto low = count(0);
    for (int k = 1; k <= steps; ++k) {
        const double r = limit * k / steps;
        const auto high = count(r);
        if (high != low) {
            double a = before, b = r;
            while (b - a > 1e-13 * limit) {
                const double middle = 0.5 * (a + b);
                (count(middle) == low ? a : b) = middle;
            }
            if (closest(0.5 * (a + b)) < 1e-8) out.push_back(0.5 * (a + b));
        }
        low = high;
        before = r;
    }
    return out;
}

double nearest(const std::vector<double>& values, double to) {
    double out = std::numeric_limits<double>::infinity();
    for (const double v : values) out = std::min(out, std::abs(v - to));
    return out;
}

struct Ends {
    std::vector<double> values;
    explicit Ends(const Acceptable& a) {
        for (const Window& w : a.windows) values.insert(values.end(), {w.low, w.high});
    }
};

}  // namespace

TEST_CASE("every crossing of ray, axis and circle of random families is among the values") {
    constexpr double limit = 3, zeta = 0.2, radius = 1.5;
    int crossings = 0;
    for (std::uint64_t seed = 1; seed <= 40; ++seed) {
        Generator g(seed);
        const Eigen::Index n = g.whole(4, 9), m = g.whole(1, 3);
        const ResistiveFamily f =
            family(1.5 * random_matrix(g, n, n), random_matrix(g, n, m), random_matrix(g, m, n), limit);
        CHECK(f.b.cols() == m);
        const std::vector<double> found = pair_boundary_values(f, zeta, {radius}, limit);
        const auto all_found = [&](const std::function<double(std::complex<double>)>& distance) {
            for (const double r : scanned(f, limit, distance)) {
                INFO("seed ", seed, ", r = ", r);
                CHECK(nearest(found, r) < 1e-7 * limit);
                ++crossings;
            }
        };
        all_found([&](std::complex<double> l) { return -l.real() / std::abs(l) - zeta; });
        all_found([&](std::complex<double> l) { return l.real(); });
        all_found([&](std::complex<double> l) { return std::abs(l) - radius; });
    }
    CHECK(crossings > 60);
}

TEST_CASE("a family that is not affine in the resistance is refused") {
    const auto a = [](double r) { return Eigen::MatrixXd(Eigen::MatrixXd::Identity(2, 2) / (1 + r)); };
    CHECK(!resistive_family(a, 10));
}

TEST_CASE("of hundreds of random uneven cases neither search has a window that the other lacks") {
#ifdef RINGQUELL_SANITIZED
    constexpr std::uint64_t cases = 40;  // the sanitizers take twenty times as long
#else
    constexpr std::uint64_t cases = 400;
#endif
    int compared = 0, complete = 0, windows = 0;
    for (std::uint64_t seed = 1; seed <= cases; ++seed) {
        Generator g(seed);
        // Two to four positions; more of two, which cost the least.
        const int positions = seed % 20 == 0 ? 4 : seed % 5 == 0 ? 3 : 2;
        const Case input = g.make({positions, false, true});
        const auto points = operating_path(input).points;
        ModeSolver solver(input);
        for (const Edge edge : {Edge::turn_on, Edge::turn_off}) {
            const Acceptable by_pairs = acceptable_gate_resistance(solver, points, edge, Effort::complete);
            const Acceptable sampled = acceptable_gate_resistance(solver, points, edge, Effort::adaptive);
            INFO("seed ", seed, ", ", positions, " positions, edge ", static_cast<int>(edge));
            ++compared;
            complete += by_pairs.complete;
            const Ends a(by_pairs), b(sampled);
            REQUIRE(a.values.size() == b.values.size());
            windows += static_cast<int>(by_pairs.windows.size());
            for (size_t k = 0; k < a.values.size(); ++k)
                CHECK(std::abs(a.values[k] - b.values[k]) < 2e-6 * (1 + a.values[k]));
        }
    }
    CHECK(complete > compared / 2);
    CHECK(windows > compared / 4);
}
