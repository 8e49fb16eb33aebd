#include "argument_path.h"

#include <fmt/format.h>

#include <cmath>
#include <limits>
#include <numbers>

#include "ringquell/error.h"
#include "ringquell/state_space.h"

namespace ringquell {

std::complex<double> PathPiece::at(double s) const {
    return ray ? std::polar(std::exp(s), angle) : centre + std::polar(radius, s);
}

std::complex<double> PathPiece::derivative(double s) const {
    return ray ? at(s) : std::complex<double>(0, 1) * std::polar(radius, s);
}

std::complex<double> KnownZeros::log_product(std::complex<double> lambda) const {
    std::complex<double> sum = 0, product = 1;
    constexpr double large = 1e100;
    for (const auto& mu : upper) {
        product *= lambda - mu;
        if (mu.imag() > 0) product *= lambda - std::conj(mu);
        const double size = std::abs(product.real()) + std::abs(product.imag());
        if (!(size < large && size > 1 / large)) {
            sum += std::log(product);
            product = 1;
        }
    }
    return sum + std::log(product);
}

std::complex<double> KnownZeros::log_derivative(std::complex<double> lambda) const {
    std::complex<double> sum = 0;
    for (const auto& mu : upper) {
        sum += 1.0 / (lambda - mu);
        if (mu.imag() > 0) sum += 1.0 / (lambda - std::conj(mu));
    }
    return sum;
}

namespace {

/// The same number with an imaginary part in [−π, π].
std::complex<double> reduced(std::complex<double> x) {
    return {x.real(), std::remainder(x.imag(), 2 * std::numbers::pi)};
}

}  // namespace

ArgumentPath::Sample ArgumentPath::sample(const PathPiece& piece, double s) {
    // The derivative by a difference: this step is small beside the distance to any zero that matters, and
    // large beside what rounding does to ln det (1e-12 or so).
    constexpr double step = 1e-6;
    Sample out{s, piece.at(s), 0, 0, 0, 0};
    const auto log_det = [&](std::complex<double> lambda) {
        ++factorisations_;
        if (!lu_.factor(lambda))
            throw NumericalError(fmt::format(
                "the pencil is singular at {:.6g} {:+.6g}j rad/s, on the path of an argument count",
                lambda.real() * natural, lambda.imag() * natural));
        return lu_.log_determinant();
    };
    // Along the path, so that a path on the real axis' end keeps its symmetry; on an arc the chord's error is
    // negligible.
    const std::complex<double> there = out.lambda * (1 + step);
    const std::complex<double> beside = log_det(there);
    out.value = log_det(out.lambda);
    out.slope = reduced(beside - out.value) / (there - out.lambda);
    divide_out(piece, out);
    return out;
}

void ArgumentPath::divide_out(const PathPiece& piece, Sample& x) const {
    x.g = x.value - zeros_.log_product(x.lambda);
    x.g_slope = (x.slope - zeros_.log_derivative(x.lambda)) * piece.derivative(x.s);
}

double ArgumentPath::change(const std::vector<PathPiece>& pieces, const Explain& explain) {
    constexpr double bend = 3, misfit = 0.5;  // see the head of argument_path.h
    constexpr double slow = 0.03;             // from here on it is cheaper to find what is beside the path
    constexpr double least = 1e-8;
    std::vector<std::vector<Sample>> samples(pieces.size());
    for (size_t p = 0; p < pieces.size(); ++p)
        for (int k = 0; k <= pieces[p].intervals; ++k)
            samples[p].push_back(sample(
                pieces[p], pieces[p].from + (pieces[p].to - pieces[p].from) * k / pieces[p].intervals));
    const auto forecast = [](const Sample& a, const Sample& b) {
        return 0.5 * (b.s - a.s) * (a.g_slope + b.g_slope);
    };
    const auto resolved = [&](const Sample& a, const Sample& b) {
        return std::abs((b.s - a.s) * (b.g_slope - a.g_slope)) <= bend &&
               std::abs(reduced(b.g - a.g - forecast(a, b))) <= misfit;
    };
    bool again = true;
    while (again) {
        again = false;
        for (size_t p = 0; p < pieces.size(); ++p) {
            for (size_t i = 0; i + 1 < samples[p].size();) {
                const Sample &a = samples[p][i], &b = samples[p][i + 1];
                if (resolved(a, b)) {
                    ++i;
                    continue;
                }
                const double h = std::abs(b.s - a.s), middle = 0.5 * (a.s + b.s);
                if (h < least)
                    throw NumericalError(fmt::format(
                        "an eigenvalue lies on the path of an argument count, at {:.6g} {:+.6g}j rad/s",
                        a.lambda.real() * natural, a.lambda.imag() * natural));
                if (explain && h < slow && explain(pieces[p].at(middle))) {
                    for (size_t q = 0; q < pieces.size(); ++q)
                        for (Sample& x : samples[q]) divide_out(pieces[q], x);
                    again = true;  // what was resolved before is judged anew
                    continue;
                }
                samples[p].insert(samples[p].begin() + static_cast<long>(i) + 1, sample(pieces[p], middle));
            }
        }
    }
    double change = 0;
    for (const auto& piece : samples)
        for (size_t i = 0; i + 1 < piece.size(); ++i) {
            const std::complex<double> f = forecast(piece[i], piece[i + 1]);
            change += f.imag() + reduced(piece[i + 1].g - piece[i].g - f).imag();
        }
    return change;
}

}  // namespace ringquell
