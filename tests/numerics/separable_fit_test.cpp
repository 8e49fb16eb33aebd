// Least squares and their covariance, against certified values and closed forms.
#include "numerics/separable_fit.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <numbers>
#include <numeric>
#include <sstream>

#include "numerics/damped_sinusoids.h"
#include "support/complex_model.h"
#include "support/relative.h"
#include "test_paths.h"

using namespace ringquell::internal;
using complex_model::Complex;

namespace {

constexpr double pi = std::numbers::pi;

struct Table {
    Eigen::VectorXd x, y;
};

/// The rows of y and x below `Data:` that a file of NIST's StRD ends with.
Table nist(const std::string& name) {
    std::ifstream in(std::string(RINGQUELL_TEST_DATA) + "/nist/" + name);
    std::vector<double> x, y;
    std::string line;
    bool data = false;
    while (std::getline(in, line)) {
        std::istringstream words(line);
        double a = 0, b = 0;
        if (data && words >> a >> b) {
            y.push_back(a);
            x.push_back(b);
        }
        data = data || line.starts_with("Data:   y");
    }
    const auto n = static_cast<Eigen::Index>(x.size());
    return {Eigen::Map<Eigen::VectorXd>(x.data(), n), Eigen::Map<Eigen::VectorXd>(y.data(), n)};
}

struct Certified {
    double value, deviation;
};

void check(const SeparableFit& fit, const std::vector<Certified>& certified, double values,
           double deviations) {
    CHECK(fit.converged);
    const double noise = std::sqrt(fit.noise_variance());
    for (size_t k = 0; k < certified.size(); ++k) {
        CAPTURE(k);
        const auto i = static_cast<Eigen::Index>(k);
        CHECK_RELATIVE(i < fit.alpha.size() ? fit.alpha(i) : fit.c(i - fit.alpha.size()), certified[k].value,
                       values);
        CHECK_RELATIVE(noise * std::sqrt(fit.covariance(i, i)), certified[k].deviation, deviations);
    }
}

/// Terms may change places on the way: sorted by their rates.
void in_order(SeparableFit& fit) {
    const Eigen::Index n = fit.alpha.size();
    std::vector<Eigen::Index> order(static_cast<size_t>(n));
    std::iota(order.begin(), order.end(), 0);
    std::sort(order.begin(), order.end(),
              [&](Eigen::Index a, Eigen::Index b) { return fit.alpha(a) < fit.alpha(b); });
    const SeparableFit found = fit;
    for (Eigen::Index k = 0; k < n; ++k) {
        const Eigen::Index from = order[static_cast<size_t>(k)];
        fit.alpha(k) = found.alpha(from);
        fit.c(k) = found.c(from);
        fit.covariance(k, k) = found.covariance(from, from);
        fit.covariance(n + k, n + k) = found.covariance(n + from, n + from);
    }
}

}  // namespace

// NIST's Statistical Reference Datasets, tests/data/nist (read).
TEST_CASE("Lanczos' three exponentials are fitted to their certified values from both starts") {
    const Table data = nist("Lanczos3.dat");
    REQUIRE(data.x.size() == 24);
    SeparableModel model;
    model.basis = [&](const Eigen::VectorXd& b) {
        Eigen::MatrixXd phi(data.x.size(), 3);
        for (Eigen::Index k = 0; k < 3; ++k) phi.col(k) = (-b(k) * data.x.array()).exp();
        return phi;
    };
    model.slope = [&](const Eigen::VectorXd&, const Eigen::VectorXd& c, const Eigen::MatrixXd& phi) {
        Eigen::MatrixXd out(data.x.size(), 3);
        for (Eigen::Index k = 0; k < 3; ++k) out.col(k) = -c(k) * data.x.array() * phi.col(k).array();
        return out;
    };
    for (const Eigen::Vector3d& start : {Eigen::Vector3d(0.3, 5.5, 7.6), Eigen::Vector3d(0.7, 4.2, 6.3)}) {
        auto fit = fit_separable(model, data.y, start);
        REQUIRE(fit);
        in_order(*fit);
        check(*fit,
              {{9.5498101505e-1, 9.7041624475e-2},
               {2.9515951832, 1.0766312506e-1},
               {4.9863565084, 3.4436403035e-2},
               {8.6816414977e-2, 1.7197908859e-2},
               {8.4400777463e-1, 4.1488663282e-2},
               {1.5825685901, 5.8371576281e-2}},
              1e-8, 1e-5);
        CHECK_RELATIVE(fit->squares, 1.6117193594e-8, 1e-9);
    }
}

TEST_CASE("the southern oscillation's cosines are fitted to their certified values and deviations") {
    const Table data = nist("ENSO.dat");
    REQUIRE(data.x.size() == 168);
    const auto turn = [&](double period) { return Eigen::ArrayXd(2 * pi / period * data.x.array()); };
    SeparableModel model;
    model.basis = [&](const Eigen::VectorXd& b) {
        Eigen::MatrixXd phi(data.x.size(), 7);
        phi.col(0).setOnes();
        const double periods[] = {12, b(0), b(1)};
        for (Eigen::Index k = 0; k < 3; ++k) {
            phi.col(1 + 2 * k) = turn(periods[k]).cos();
            phi.col(2 + 2 * k) = turn(periods[k]).sin();
        }
        return phi;
    };
    model.slope = [&](const Eigen::VectorXd& b, const Eigen::VectorXd& c, const Eigen::MatrixXd& phi) {
        Eigen::MatrixXd out(data.x.size(), 2);
        for (Eigen::Index k = 0; k < 2; ++k)
            out.col(k) = turn(b(k)) / b(k) *
                         (c(3 + 2 * k) * phi.col(4 + 2 * k) - c(4 + 2 * k) * phi.col(3 + 2 * k)).array();
        return out;
    };
    for (const Eigen::Vector2d& start : {Eigen::Vector2d(40, 25), Eigen::Vector2d(44, 26)}) {
        const auto fit = fit_separable(model, data.y, start);
        REQUIRE(fit);
        check(*fit,
              {{4.4311088700e1, 9.4408025976e-1},
               {2.6887614440e1, 4.1612939130e-1},
               {1.0510749193e1, 1.7488832467e-1},
               {3.0762128085, 2.4310052139e-1},
               {5.3280138227e-1, 2.4354686618e-1},
               {-1.6231428586, 2.8078369611e-1},
               {5.2554493756e-1, 4.8073701119e-1},
               {2.1232288488e-1, 5.1460022911e-1},
               {1.4966870418, 2.5434468893e-1}},
              1e-8, 1e-9);
        CHECK_RELATIVE(fit->squares, 7.8853978668e2, 1e-10);
    }
}

TEST_CASE("the bound of one complex mode is its closed form") {
    // var ω = var α = σ²/(2A²)·S0/(S0·S2 − S1²), S_k = Σ n^k·e^(−2αn) (derived).
    for (const Eigen::Index n : {12, 200})
        for (const double decay : {0.003, 0.1}) {
            const double amplitude = 1.7;
            Eigen::VectorXcd y(n);
            double s0 = 0, s1 = 0, s2 = 0;
            for (Eigen::Index k = 0; k < n; ++k) {
                const auto t = static_cast<double>(k);
                y(k) = amplitude * std::exp(Complex(-decay, 0.9) * t + Complex(0, 0.4));
                const double w = std::exp(-2 * decay * t);
                s0 += w;
                s1 += t * w;
                s2 += t * t * w;
            }
            const auto fit = fit_separable(complex_model::modes(n), complex_model::stacked(y),
                                           Eigen::Vector2d(decay, 0.9));
            REQUIRE(fit);
            // σ² is of both parts together: half of it in each.
            const double expected = s0 / (s0 * s2 - s1 * s1) / (2 * amplitude * amplitude);
            CHECK_RELATIVE(0.5 * fit->covariance(0, 0), expected, 1e-10);
            CHECK_RELATIVE(0.5 * fit->covariance(1, 1), expected, 1e-10);
        }
}

TEST_CASE("the bound of a real mode, sampled finely until it is gone, is 4·(noise/A)·√(σ·Δt)") {
    // 100 MHz at 5 GS/s, noise 1 % of the amplitude: relative standard deviation of σ by the exact Fisher matrix of an
    // independent program (run; it does not say at which phase) and by the formula (derived).
    struct Row {
        double zeta, exact, formula;
    };
    for (const Row& row :
         {Row{0.02, 2.01e-3, 2.01e-3}, Row{0.05, 3.19e-3, 3.17e-3}, Row{0.1, 4.54e-3, 4.48e-3}}) {
        CAPTURE(row.zeta);
        const double omega = 2 * pi * 100e6 / 5e9,
                     sigma = omega * row.zeta / std::sqrt(1 - row.zeta * row.zeta);
        const auto samples = static_cast<Eigen::Index>(20 / sigma);
        const std::vector<DampedTerm> term{{sigma, omega, true}};
        double least = 1, most = 0;
        for (int eighth = 0; eighth < 8; ++eighth) {
            Eigen::VectorXd y(samples);
            for (Eigen::Index n = 0; n < samples; ++n) {
                const auto t = static_cast<double>(n);
                y(n) = std::exp(-sigma * t) * std::cos(omega * t + eighth * pi / 8);
            }
            const auto fit = fit_separable(damped_model(term, 0, samples), y, parameters_of(term));
            REQUIRE(fit);
            const double found = 0.01 * std::sqrt(fit->covariance(0, 0)) / sigma;
            least = std::min(least, found);
            most = std::max(most, found);
            CHECK_RELATIVE(found, row.formula, 0.75 * row.zeta);
        }
        CHECK(least <= row.exact * 1.003);
        CHECK(most >= row.exact * 0.997);
        CHECK_RELATIVE(4 * 0.01 * std::sqrt(sigma), row.formula, 5e-3);
    }
}

TEST_CASE(
    "the mean of a block of an exponential is the exponential at its middle, times what block_mean says") {
    const Complex s(-0.03, 0.21);
    for (const Eigen::Index block : {1, 2, 7, 30}) {
        Complex sum = 0;
        for (Eigen::Index n = 0; n < block; ++n) sum += std::exp(s * static_cast<double>(n));
        const Complex middle = std::exp(s * (static_cast<double>(block - 1) / 2));
        CHECK_RELATIVE(sum / static_cast<double>(block), middle * block_mean(s, block), 1e-13);
    }
    CHECK_RELATIVE(block_mean({-1e-6, 3e-6}, 100), std::complex<double>(1, 0), 1e-7);
}

TEST_CASE("columns that cannot be told apart are no fit") {
    const std::vector<DampedTerm> same{{0.01, 0.3, true}, {0.01, 0.3, true}};
    const Eigen::VectorXd y = Eigen::VectorXd::LinSpaced(50, 0, 1);
    CHECK_FALSE(fit_separable(damped_model(same, 0, 50), y, parameters_of(same)));
    const std::vector<DampedTerm> wild{{-50, 0.3, true}};
    CHECK_FALSE(fit_separable(damped_model(wild, 0, 50), y, parameters_of(wild)));
}
