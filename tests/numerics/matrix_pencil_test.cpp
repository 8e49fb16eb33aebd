#include "numerics/matrix_pencil.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "support/complex_model.h"
#include "support/noise.h"
#include "support/relative.h"

using namespace ringquell::internal;
using complex_model::Complex;

namespace {

constexpr double pi = std::numbers::pi;

/// R. Kumaresan, D. W. Tufts, IEEE Trans. ASSP 30 (1982) 833: 25 samples of two modes (from memory).
constexpr Eigen::Index samples = 25;
const Complex first_mode(-0.1, 2 * pi * 0.52), second_mode(-0.2, 2 * pi * 0.42);

Eigen::VectorXcd kumaresan_tufts() {
    Eigen::VectorXcd y(samples);
    for (Eigen::Index n = 0; n < samples; ++n)
        y(n) = std::exp(first_mode * static_cast<double>(n)) + std::exp(second_mode * static_cast<double>(n));
    return y;
}

/// The exponent nearest to a mode, its angle within half a turn of the mode's.
Complex nearest(const std::vector<Complex>& poles, Complex mode) {
    const Complex z = *std::min_element(poles.begin(), poles.end(), [&](Complex a, Complex b) {
        return std::abs(a - std::exp(mode)) < std::abs(b - std::exp(mode));
    });
    const Complex s = std::log(z);
    return {s.real(), mode.imag() + std::remainder(s.imag() - mode.imag(), 2 * pi)};
}

}  // namespace

TEST_CASE("without noise the pencil has the poles of Kumaresan and Tufts, and two singular values") {
    const MatrixPencil pencil(kumaresan_tufts(), 8);
    CHECK(pencil.order() == 2);
    const auto poles = pencil.poles(2);
    REQUIRE(poles.size() == 2);
    CHECK(std::abs(nearest(poles, first_mode) - first_mode) < 1e-10);
    CHECK(std::abs(nearest(poles, second_mode) - second_mode) < 1e-10);
}

TEST_CASE("a real signal of two modes has two pairs of poles, and is told to ten digits") {
    // 56 samples a second, 114 of them; github ecdg0/MSc-Electrical-Engineering-Coursework, MATRIX_PENCIL.m (its signal as
    // our notes have it).
    Eigen::VectorXd y(114);
    for (Eigen::Index n = 0; n < y.size(); ++n) {
        const double t = static_cast<double>(n) / 56;
        y(n) = std::exp(-0.1 * t) * std::cos(2 * pi * t) +
               0.25 * std::exp(-0.125 * t) * std::cos(2 * pi * 7 * t + pi / 8);
    }
    const MatrixPencil pencil(y, 38);
    CHECK(pencil.order() == 4);
    const auto poles = pencil.poles(4);
    for (const Complex mode : {Complex(-0.1, 2 * pi), Complex(-0.125, 14 * pi)})
        for (const Complex s : {mode, std::conj(mode)})
            CHECK(std::abs(56.0 * nearest(poles, s / 56.0) - s) < 1e-9);
}

TEST_CASE("with noise the pencil comes as near to the bound as it did in an independent run") {
    // Standard deviations of 4000 trials of an independent program with the same pencil length (run), and the bounds
    // beside them. Of 4000 trials a standard deviation is known to 1.1 %.
    struct Row {
        double noise, bound_first, pencil_first, bound_second, pencil_second;
    };
    constexpr int trials = 4000;
    for (const Row& row :
         {Row{0.1, 8.279e-3, 9.24e-3, 2.015e-2, 2.21e-2}, Row{0.01, 8.279e-4, 9.07e-4, 2.015e-3, 2.14e-3}}) {
        CAPTURE(row.noise);
        const Eigen::VectorXcd clean = kumaresan_tufts();
        const Eigen::Vector4d truth(0.1, first_mode.imag(), 0.2, second_mode.imag());
        const auto fit = fit_separable(complex_model::modes(samples), complex_model::stacked(clean), truth);
        REQUIRE(fit);
        // Noise of variance σ² in real and imaginary part together.
        const double part = row.noise / std::sqrt(2.0);
        CHECK_RELATIVE(part * std::sqrt(fit->covariance(1, 1)), row.bound_first, 2e-4);
        CHECK_RELATIVE(part * std::sqrt(fit->covariance(3, 3)), row.bound_second, 3e-4);
        Noise noise(20261127);
        double first = 0, second = 0;
        for (int trial = 0; trial < trials; ++trial) {
            Eigen::VectorXcd y = clean;
            for (Complex& v : y) v += part * Complex(noise(), noise());
            const auto poles = MatrixPencil(y, 8).poles(2);
            first += std::pow(nearest(poles, first_mode).imag() - first_mode.imag(), 2) / trials;
            second += std::pow(nearest(poles, second_mode).imag() - second_mode.imag(), 2) / trials;
        }
        CHECK_RELATIVE(std::sqrt(first), row.pencil_first, 0.05);
        CHECK_RELATIVE(std::sqrt(second), row.pencil_second, 0.05);
    }
}

TEST_CASE("noise alone shows few singular values above the threshold, a constant none beside its own") {
    Noise noise(7);
    Eigen::VectorXd y(256);
    for (double& v : y) v = noise();
    CHECK(MatrixPencil(y, 85).order() < 20);
    const MatrixPencil constant(Eigen::VectorXd(Eigen::VectorXd::Constant(60, 3.0)), 20);
    CHECK(constant.order() == 1);
    const auto poles = constant.poles(1);
    REQUIRE(poles.size() == 1);
    CHECK(std::abs(poles[0] - 1.0) < 1e-12);
}
