// How the terms of a record are found, and what the fit of them says.
#pragma once

#include <Eigen/Core>
#include <complex>
#include <optional>
#include <vector>

#include "numerics/damped_sinusoids.h"
#include "numerics/separable_fit.h"

namespace ringquell::internal {

/// Even samples; exponents of terms are a sample, t = 0 at the first.
using Samples = Eigen::Ref<const Eigen::VectorXd>;

/// Terms and a constant fitted together to samples, which were averaged over blocks first where the terms are slow: the
/// mean of a block of e^(s·t) is e^(s·t) again, so that exponents stay exact and only noise is lost.
struct JointFit {
    std::vector<DampedTerm> terms;                 // exponents a sample
    std::vector<std::complex<double>> amplitudes;  // at t = 0 of a sample, not of a block
    double constant = 0;
    Eigen::Index block = 1;  // samples to a point
    SeparableFit fit;        // of the points, its exponents a point; the constant is the last of c

    Eigen::Index points() const { return fit.residual.size(); }
    /// Standard deviation of the noise of a point.
    double noise() const;
    /// ∫|term|² over the samples, for the order of terms.
    double energy(size_t term) const;
    /// What the terms and the constant are at sample t, or on average over `block` samples about it.
    double value(double t, Eigen::Index block = 1) const;
    /// Correlation of the residual from point to point, and within what white noise has it (three deviations).
    double whiteness() const;
    double whiteness_allowed() const;
    /// By how much the residual's spectral density about a term (or about zero, where it does not swing) is above its
    /// mean, which is what the errors of its parameters go by: the mean of its periodogram over 12 lines to either side.
    /// 1 where the residual is white, and at least.
    double colour(std::optional<size_t> term) const;
    /// How much a term is missed: cᵀ·C⁻¹·c of its amplitudes, C their covariance.
    double weight(size_t term) const;
};

struct FitEffort {
    Eigen::Index block = 0;            // samples to a point; 0: as many as the fastest term allows
    Eigen::Index most_points = 65536;  // of a longer record the first so many are used
    int iterations = 40;
};

/// The best fit from these exponents; empty where there are too few points, or terms that cannot be told apart.
std::optional<JointFit> fit_terms(const Samples& samples, const std::vector<DampedTerm>& start,
                                  const FitEffort& effort = {});

/// Means of blocks of samples; how many samples a block may have for terms; terms without one of them.
Eigen::VectorXd block_means(const Samples& samples, Eigen::Index block);
Eigen::Index block_for(const std::vector<DampedTerm>& terms, Eigen::Index samples);
std::vector<DampedTerm> without(std::vector<DampedTerm> terms, size_t k);

/// Without those that do not pay for themselves: f·ln(squares without / squares with) must exceed k·ln N + 10 for k
/// parameters of the term, N points and f that are free. That is the information criterion of G. Schwarz, Ann. Statist.
/// 6 (1978) 461 (memory), and 10, so that the best of all the frequencies that a search tries over noise alone does not
/// pass. Terms that are known to be there stay down to k: what is left out biases the others. Beside noise that is not
/// white the price is higher by its colour there.
enum class Price { newcomer, known };
JointFit paying_terms(const Samples& samples, JointFit fit, Price price = Price::newcomer);

struct FoundTerms {
    JointFit fit;
    /// A ring of little energy within the width of a stronger one, the strongest such; it is not in the fit. Its
    /// frequency a sample, and its energy over that of the one it stands beside.
    std::optional<std::pair<double, double>> shadow;
    bool near_nyquist = false;  // a term swings at more than nine tenths of half the sampling rate
};

/// Searches records from their finest points to their coarsest.
FoundTerms find_terms(const Samples& samples, int most_rings);

}  // namespace ringquell::internal
