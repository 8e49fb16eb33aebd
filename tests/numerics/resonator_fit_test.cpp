// Measured resonators of a national laboratory, their Q by the separable fit: real noise with a stated answer.
//
// Data: A. P. Gregory, NPL Report MAT 58 (2021), CC0, tests/data/npl. Models (MAT 58 eqn. 21, 26, 43), weights (eqn. 28)
// and expected values as github scikit-rf/scikit-rf has them, skrf/qfactor.py and skrf/tests/test_qfactor.py (read).
#include <doctest/doctest.h>

#include <cmath>
#include <fstream>
#include <numbers>
#include <sstream>

#include "support/complex_model.h"
#include "support/relative.h"
#include "test_paths.h"

using namespace ringquell::internal;
using complex_model::Complex;

namespace {

struct Sweep {
    Eigen::VectorXd ghz;
    Eigen::VectorXcd s;
};

Sweep sweep(const std::string& name) {
    std::ifstream in(std::string(RINGQUELL_TEST_DATA) + "/npl/" + name);
    std::vector<double> f;
    std::vector<Complex> s;
    std::string line;
    while (std::getline(in, line)) {
        std::istringstream words(line.substr(0, line.find('%')));
        double hz = 0, re = 0, im = 0;
        if (!(words >> hz >> re >> im)) continue;
        f.push_back(hz);
        s.emplace_back(re, im);
    }
    const auto n = static_cast<Eigen::Index>(f.size());
    return {Eigen::Map<Eigen::VectorXd>(f.data(), n), Eigen::Map<Eigen::VectorXcd>(s.data(), n)};
}

enum class Beside { nothing, line, leakage };

/// S = a + b/(1 + 2jQ·(f/f_L − 1)); a line multiplies it by e^(jm·(f − f_L)/f₁), leakage adds c·2(f − f_L)/f_L.
/// α = (f_L/f₁, Q and, with a line, m).
struct Resonance {
    Sweep data;
    Beside beside = Beside::nothing;
    Eigen::VectorXd weight;

    double first() const { return data.ghz(0); }
    Complex pole(const Eigen::VectorXd& alpha, Eigen::Index n) const {
        return 1.0 / Complex(1, 2 * alpha(1) * (data.ghz(n) / (first() * alpha(0)) - 1));
    }
    Complex line(const Eigen::VectorXd& alpha, Eigen::Index n) const {
        return beside == Beside::line ? std::exp(Complex(0, alpha(2) * (data.ghz(n) / first() - alpha(0))))
                                      : 1.0;
    }
    Eigen::MatrixXcd basis(const Eigen::VectorXd& alpha) const {
        Eigen::MatrixXcd out(data.ghz.size(), beside == Beside::leakage ? 3 : 2);
        for (Eigen::Index n = 0; n < out.rows(); ++n) {
            out(n, 0) = line(alpha, n);
            out(n, 1) = line(alpha, n) * pole(alpha, n);
            if (beside == Beside::leakage) out(n, 2) = 2 * (data.ghz(n) / (first() * alpha(0)) - 1);
        }
        return out;
    }
    /// By central differences of the basis.
    Eigen::MatrixXcd slope(const Eigen::VectorXd& alpha, const Eigen::VectorXcd& c) const {
        Eigen::MatrixXcd out(data.ghz.size(), alpha.size());
        for (Eigen::Index k = 0; k < alpha.size(); ++k) {
            const double step = k == 0 ? 1e-4 / alpha(1) : k == 1 ? 1e-4 * alpha(1) : 1e-4;
            Eigen::VectorXd up = alpha, down = alpha;
            up(k) += step;
            down(k) -= step;
            out.col(k) = (basis(up) - basis(down)) * c / (2 * step);
        }
        return out;
    }
    SeparableFit fit(const Eigen::VectorXd& start) const {
        const auto out = fit_separable(
            complex_model::model(
                [this](const Eigen::VectorXd& a) { return basis(a); },
                [this](const Eigen::VectorXd& a, const Eigen::VectorXcd& c) { return slope(a, c); }, weight),
            complex_model::stacked(weight.asDiagonal() * data.s), start);
        REQUIRE(out);
        return *out;
    }
};

struct Found {
    double ghz, q, rms;
};

/// Unweighted first, then twice with weights that the fit before gives. From the sharpest peak or dip and five widths of
/// the sweep, as the source starts.
Found fitted(const Sweep& data, bool peak, Beside beside) {
    Resonance model{data, beside, Eigen::VectorXd::Ones(data.ghz.size())};
    Eigen::Index at = 0;
    if (peak)
        data.s.cwiseAbs().maxCoeff(&at);
    else
        data.s.cwiseAbs().minCoeff(&at);
    const double span = data.ghz(data.ghz.size() - 1) - data.ghz(0);
    Eigen::VectorXd alpha = Eigen::VectorXd::Zero(beside == Beside::line ? 3 : 2);
    alpha(0) = data.ghz(at) / data.ghz(0);
    alpha(1) = 5 * data.ghz(at) / span;
    double squares = 0;
    for (int round = 0; round < 3; ++round) {
        const SeparableFit fit = model.fit(alpha);
        alpha = fit.alpha;
        squares = fit.squares / model.weight.squaredNorm();
        if (round == 2) break;
        for (Eigen::Index n = 0; n < data.ghz.size(); ++n) model.weight(n) = std::abs(model.pole(alpha, n));
    }
    return {alpha(0) * data.ghz(0), alpha(1), std::sqrt(squares)};
}

}  // namespace

TEST_CASE("a measured transmission has the frequency and Q that the laboratory gives") {
    const Sweep data = sweep("Figure6b.txt");
    REQUIRE(data.ghz.size() == 201);
    const Found found = fitted(data, true, Beside::nothing);
    CHECK_RELATIVE(found.ghz, 3.987848, 2e-7);
    CHECK_RELATIVE(found.q, 7454.0, 1e-3);
    CHECK_RELATIVE(found.rms, 1.216e-5, 1e-2);
}

TEST_CASE("a measured superconducting absorption has the frequency and Q that the laboratory gives") {
    const Sweep data = sweep("Figure27.txt");
    REQUIRE(data.ghz.size() == 239);
    const Found found = fitted(data, false, Beside::nothing);
    CHECK_RELATIVE(found.ghz, 6.07225567, 2e-8);
    CHECK_RELATIVE(found.q, 56019.85, 1e-3);
    CHECK_RELATIVE(found.rms, 1.394722e-2, 1e-3);
}

TEST_CASE("a measured reflection has its Q with the uncalibrated line fitted") {
    const Sweep data = sweep("Table6c27.txt");
    REQUIRE(data.ghz.size() == 201);
    const Found found = fitted(data, false, Beside::line);
    CHECK_RELATIVE(found.ghz, 3.652938, 2e-7);
    CHECK_RELATIVE(found.q, 708.0, 1e-3);
    CHECK_RELATIVE(found.rms, 1.45957e-3, 1e-2);
}

TEST_CASE(
    "a measured transmission with leakage that turns with frequency has its Q, 1.2 m of cable taken off") {
    Sweep data = sweep("Figure23.txt");
    REQUIRE(data.ghz.size() == 201);
    constexpr double light_m_per_ns = 0.299792458, cable_m = 1.2;
    for (Eigen::Index n = 0; n < data.s.size(); ++n)
        data.s(n) *= std::exp(Complex(0, -2 * std::numbers::pi * data.ghz(n) * cable_m / light_m_per_ns));
    const Found found = fitted(data, true, Beside::leakage);
    CHECK_RELATIVE(found.ghz, 9.76015571, 2e-8);
    CHECK_RELATIVE(found.q, 4760.04, 1e-3);
    CHECK_RELATIVE(found.rms, 9.10e-6, 1e-2);
}
