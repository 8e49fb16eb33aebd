// Levenberg and Marquardt's iteration on functions whose least is known.
#include "numerics/nonlinear_fit.h"

#include <doctest/doctest.h>

#include <cmath>
#include <stdexcept>

#include "support/relative.h"

using namespace ringquell::internal;

TEST_CASE("the least of Rosenbrock's valley is at (1, 1)") {
    // H. H. Rosenbrock, An automatic method for finding the greatest or least value of a function, Computer Journal 3
    // (1960) 175: from memory. As residuals 10(y − x²) and 1 − x.
    const auto valley = [](const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* slopes) {
        r = Eigen::Vector2d(10 * (x[1] - x[0] * x[0]), 1 - x[0]);
        if (slopes != nullptr) *slopes = (Eigen::Matrix2d() << -20 * x[0], 10, -1, 0).finished();
        return true;
    };
    const NonlinearFit fit = fit_nonlinear(valley, Eigen::Vector2d(-1.2, 1), 2, 1e-14);
    CHECK(fit.converged);
    CHECK_RELATIVE(fit.x[0], 1.0, 1e-10);
    CHECK_RELATIVE(fit.x[1], 1.0, 1e-10);
}

TEST_CASE("the iteration keeps out of places that are not possible") {
    // ln x = 1 with x > 0 alone: the first step of Gauss and Newton from 6 leads below zero.
    int refused = 0;
    const auto logarithm = [&](const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* slopes) {
        if (x[0] <= 0) {
            ++refused;
            return false;
        }
        r.resize(1);
        r[0] = 10 * (std::log(x[0]) - 1);
        if (slopes != nullptr) *slopes = Eigen::MatrixXd::Constant(1, 1, 10 / x[0]);
        return true;
    };
    const NonlinearFit fit = fit_nonlinear(logarithm, Eigen::VectorXd::Constant(1, 60), 1, 1e-14);
    CHECK(fit.converged);
    CHECK(refused > 0);
    CHECK_RELATIVE(fit.x[0], std::exp(1.0), 1e-10);
    CHECK_THROWS_AS(fit_nonlinear(logarithm, Eigen::VectorXd::Constant(1, -1), 1, 1e-14),
                    std::invalid_argument);
}
