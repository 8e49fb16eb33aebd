#include "numerics/argument_path.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>

#include "numerics/units.h"
#include "ringquell/error.h"

namespace ringquell::internal {

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

ArgumentPath::Line& ArgumentPath::line_of(const PathPiece& piece) {
    for (const auto& line : lines_)
        if (line->piece.same_line(piece)) return *line;
    lines_.push_back(std::make_unique<Line>(Line{piece, {}}));
    return *lines_.back();
}

void ArgumentPath::sample(const std::vector<Request>& requests) {
    // The derivative by a difference: this step is small beside the distance to any zero that matters, and
    // large beside what rounding does to ln det (1e-12 or so).
    constexpr double step = 1e-6;
    std::vector<std::complex<double>> lambdas;
    for (const Request& r : requests) {
        const std::complex<double> lambda = r.line->piece.at(r.s);
        lambdas.push_back(lambda);
        lambdas.push_back(lambda * (1 + step));
    }
    const auto values = determinant_.log_determinants(lambdas);
    for (size_t k = 0; k < requests.size(); ++k) {
        const std::complex<double> here = lambdas[2 * k], value = values[2 * k];
        if (!std::isfinite(value.real()))
            throw NumericalError(fmt::format(
                "the pencil is singular at {:.6g} {:+.6g}j rad/s, on the path of an argument count",
                here.real() * natural, here.imag() * natural));
        requests[k].line->samples[requests[k].s] = {
            here, value, reduced(values[2 * k + 1] - value) / (lambdas[2 * k + 1] - here)};
    }
}

std::complex<double> ArgumentPath::restless(double low, double high) const {
    std::complex<double> out = 0;
    double most = 0;
    for (const auto& line : lines_) {
        if (!line->piece.ray) continue;
        for (const auto& [s, x] : line->samples) {
            const double size = std::abs(x.lambda);
            const double speed = size * std::abs(x.slope - zeros_.log_derivative(x.lambda));
            if (size > low && size < high && speed > most) {
                most = speed;
                out = x.lambda;
            }
        }
    }
    return out;
}

double ArgumentPath::change(const std::vector<PathPiece>& pieces, const Explain& explain) {
    constexpr double bend = 3, misfit = 0.5;  // see the head of argument_path.h
    constexpr double slow = 1e-3;             // from here on it is cheaper to find what is beside the path
    constexpr double least = 1e-8;
    std::vector<Request> wanted;
    for (const PathPiece& piece : pieces) {
        Line& line = line_of(piece);
        const auto [low, high] = std::minmax(piece.from, piece.to);
        for (double end : {low, high})
            if (!line.samples.contains(end)) wanted.push_back({&line, end});
        double before = low;
        for (auto it = line.samples.upper_bound(low);; ++it) {
            const double next = it == line.samples.end() || it->first > high ? high : it->first;
            const int parts = static_cast<int>(std::ceil((next - before) / piece.step));
            for (int k = 1; k < parts; ++k) wanted.push_back({&line, before + (next - before) * k / parts});
            before = next;
            if (next == high) break;
        }
    }
    struct Divided {
        double s;
        std::complex<double> lambda, g, slope;  // L_g and dL_g/ds
    };
    const auto divided = [&](const PathPiece& piece) {
        std::vector<Divided> out;
        const Line& line = line_of(piece);
        const auto [low, high] = std::minmax(piece.from, piece.to);
        for (auto it = line.samples.lower_bound(low); it != line.samples.end() && it->first <= high; ++it) {
            const Sample& x = it->second;
            out.push_back({it->first, x.lambda, x.value - zeros_.log_product(x.lambda),
                           (x.slope - zeros_.log_derivative(x.lambda)) * piece.derivative(it->first)});
        }
        return out;
    };
    const auto forecast = [](const Divided& a, const Divided& b) {
        return 0.5 * (b.s - a.s) * (a.slope + b.slope);
    };
    const auto resolved = [&](const Divided& a, const Divided& b) {
        return std::abs((b.s - a.s) * (b.slope - a.slope)) <= bend &&
               std::abs(reduced(b.g - a.g - forecast(a, b))) <= misfit;
    };
    double change = 0;
    while (true) {
        sample(wanted);
        wanted.clear();
        change = 0;
        bool explained = false;
        for (const PathPiece& piece : pieces) {
            const std::vector<Divided> samples = divided(piece);
            double along = 0;
            for (size_t i = 0; i + 1 < samples.size() && !explained; ++i) {
                const Divided &a = samples[i], &b = samples[i + 1];
                if (resolved(a, b)) {
                    const std::complex<double> f = forecast(a, b);
                    along += f.imag() + reduced(b.g - a.g - f).imag();
                    continue;
                }
                const double h = b.s - a.s, middle = 0.5 * (a.s + b.s);
                if (h < least)
                    throw NumericalError(fmt::format(
                        "an eigenvalue lies on the path of an argument count, at {:.6g} {:+.6g}j rad/s",
                        a.lambda.real() * natural, a.lambda.imag() * natural));
                explained = explain && h < slow && explain(piece.at(middle));
                wanted.push_back({&line_of(piece), middle});
            }
            change += piece.from < piece.to ? along : -along;
        }
        if (wanted.empty()) return change;
    }
}

}  // namespace ringquell::internal
