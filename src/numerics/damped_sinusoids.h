// Damped sinusoids and decays as a model with linear amplitudes (separable_fit.h).
#pragma once

#include <Eigen/Core>
#include <complex>
#include <vector>

#include "numerics/separable_fit.h"

namespace ringquell::internal {

/// e^(−decay·t)·cos(frequency·t + φ), or e^(−decay·t) where it does not swing; t counts samples, and frequency is in
/// radians a sample.
struct DampedTerm {
    double decay = 0, frequency = 0;
    bool swings = true;
    std::complex<double> exponent() const { return {-decay, swings ? frequency : 0}; }
};

/// α of such terms: decay and frequency of one that swings, decay of one that does not.
Eigen::VectorXd parameters_of(const std::vector<DampedTerm>& terms);
/// The same terms with other parameters.
std::vector<DampedTerm> with_parameters(const std::vector<DampedTerm>& terms, const Eigen::VectorXd& alpha);

/// Where the parameters of a term stand in α, and its amplitudes in c: two of each where it swings.
struct TermPlace {
    Eigen::Index alpha = 0, c = 0;
};
std::vector<TermPlace> places_of(const std::vector<DampedTerm>& terms);

/// Samples at t = first, first + 1, …. Columns of Φ: of a term that swings Re and −Im of e^(exponent·t), so that its
/// amplitudes are Re and Im of a complex one; of a decay itself; last the constant 1.
SeparableModel damped_model(const std::vector<DampedTerm>& terms, double first, Eigen::Index samples);

/// The mean of e^(s·t) over `block` samples about t = 0, over 1: what averaging over blocks takes from a term with
/// exponent s a sample, whose amplitude is counted at the blocks' middles.
std::complex<double> block_mean(std::complex<double> s, Eigen::Index block);

}  // namespace ringquell::internal
