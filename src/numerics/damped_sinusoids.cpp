#include "numerics/damped_sinusoids.h"

#include <cmath>

namespace ringquell::internal {

Eigen::VectorXd parameters_of(const std::vector<DampedTerm>& terms) {
    std::vector<double> out;
    for (const DampedTerm& term : terms) {
        out.push_back(term.decay);
        if (term.swings) out.push_back(term.frequency);
    }
    return Eigen::Map<const Eigen::VectorXd>(out.data(), static_cast<Eigen::Index>(out.size()));
}

std::vector<DampedTerm> with_parameters(const std::vector<DampedTerm>& terms, const Eigen::VectorXd& alpha) {
    std::vector<DampedTerm> out = terms;
    Eigen::Index at = 0;
    for (DampedTerm& term : out) {
        term.decay = alpha(at++);
        if (term.swings) term.frequency = alpha(at++);
    }
    return out;
}

std::vector<TermPlace> places_of(const std::vector<DampedTerm>& terms) {
    std::vector<TermPlace> out;
    TermPlace next;
    for (const DampedTerm& term : terms) {
        out.push_back(next);
        const Eigen::Index count = term.swings ? 2 : 1;
        next.alpha += count;
        next.c += count;
    }
    return out;
}

SeparableModel damped_model(const std::vector<DampedTerm>& terms, double first, Eigen::Index samples) {
    const std::vector<TermPlace> places = places_of(terms);
    const Eigen::Index parameters = parameters_of(terms).size();
    SeparableModel out;
    out.basis = [=](const Eigen::VectorXd& alpha) {
        Eigen::MatrixXd phi(samples, parameters + 1);
        phi.col(parameters).setOnes();
        const std::vector<DampedTerm> now = with_parameters(terms, alpha);
        for (size_t k = 0; k < now.size(); ++k) {
            const std::complex<double> s = now[k].exponent(), ratio = std::exp(s);
            std::complex<double> w;
            constexpr Eigen::Index anew = 32;  // products in a row, so that their rounding stays below 1e-14
            for (Eigen::Index n = 0; n < samples; ++n) {
                w = n % anew == 0 ? std::exp(s * (first + static_cast<double>(n))) : w * ratio;
                phi(n, places[k].c) = w.real();
                if (now[k].swings) phi(n, places[k].c + 1) = -w.imag();
            }
        }
        return phi;
    };
    out.slope = [=](const Eigen::VectorXd&, const Eigen::VectorXd& c, const Eigen::MatrixXd& phi) {
        Eigen::MatrixXd slope(samples, parameters);
        const Eigen::ArrayXd t =
            Eigen::ArrayXd::LinSpaced(samples, first, first + static_cast<double>(samples - 1));
        for (size_t k = 0; k < terms.size(); ++k) {
            const auto [a, b] = places[k];
            if (!terms[k].swings) {
                slope.col(a) = -t * phi.col(b).array() * c(b);
                continue;
            }
            slope.col(a) = -t * (c(b) * phi.col(b) + c(b + 1) * phi.col(b + 1)).array();
            slope.col(a + 1) = t * (c(b) * phi.col(b + 1) - c(b + 1) * phi.col(b)).array();
        }
        return slope;
    };
    return out;
}

std::complex<double> block_mean(std::complex<double> s, Eigen::Index block) {
    const auto length = static_cast<double>(block);
    // sinh(s·B/2)/(B·sinh(s/2)); its series where the quotient would cancel.
    if (std::abs(s) * length < 1e-3) return 1.0 + s * s * (length * length - 1) / 24.0;
    return std::sinh(s * (length / 2)) / (length * std::sinh(s / 2.0));
}

}  // namespace ringquell::internal
