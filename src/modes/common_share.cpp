#include "modes/common_share.h"

#include <cmath>
#include <complex>

#include "modes/along.h"
#include "numerics/decompositions.h"

namespace ringquell::internal {

namespace {

/// Where the positions hold less than this share of the energy there is only rounding: 0/0.
constexpr double nothing = 1e-24;
/// A direction of equal modes whose energy in the positions is less than this share of the others' is 0/0,
/// too: the forms' own rounding.
constexpr double rounding = 1e-13;

}  // namespace

double common_share(const Network& network, const Eigen::VectorXcd& x, int positions) {
    std::vector<std::complex<double>> sum(static_cast<size_t>(network.slots));
    double squares = 0, shared = 0;
    for_each_amplitude(network, [&](const EnergyAmplitude& a) {
        const std::complex<double> amplitude = along(a.right, x) * std::sqrt(a.value(network));
        if (a.position == 0) {
            shared += std::norm(amplitude);
            return;
        }
        sum[static_cast<size_t>(a.slot)] += amplitude;
        squares += std::norm(amplitude);
    });
    double of_sum = 0;
    for (const auto& s : sum) of_sum += std::norm(s);
    return squares > nothing * shared ? std::min(1.0, of_sum / (positions * squares)) : 1;
}

SplitModes split_by_share(const Network& network, const Eigen::MatrixXcd& x, int positions) {
    const Eigen::Index m = x.cols();
    if (m == 1) return {x, {common_share(network, x.col(0), positions)}};
    Eigen::MatrixXcd sum = Eigen::MatrixXcd::Zero(network.slots, m);
    Eigen::MatrixXcd squares = Eigen::MatrixXcd::Zero(m, m);
    double shared = 0;
    for_each_amplitude(network, [&](const EnergyAmplitude& a) {
        Eigen::RowVectorXcd amplitude = Eigen::RowVectorXcd::Zero(m);
        for (const auto& [i, s] : a.right) amplitude += s * x.row(i);
        amplitude *= std::sqrt(a.value(network));
        if (a.position == 0) {
            shared += amplitude.squaredNorm();
            return;
        }
        sum.row(a.slot) += amplitude;
        squares += amplitude.adjoint() * amplitude;
    });
    const HermitianEigenpairs energy = hermitian_eigenpairs(squares);
    const double least = std::max(rounding * energy.values[m - 1], nothing * shared);
    Eigen::Index empty = 0;  // eigenvalues rise
    while (empty < m && !(energy.values[empty] > least)) ++empty;
    SplitModes out;
    out.x.resize(x.rows(), m);
    const Eigen::Index full = m - empty;
    if (full > 0) {
        const Eigen::MatrixXcd unit =
            energy.vectors.rightCols(full) * energy.values.tail(full).cwiseSqrt().cwiseInverse().asDiagonal();
        const Eigen::MatrixXcd of_sum = product(sum, unit);
        const HermitianEigenpairs kinds = hermitian_eigenpairs(product_of_adjoint(of_sum, of_sum));
        for (Eigen::Index k = 0; k < full; ++k)
            out.share.push_back(std::clamp(kinds.values[k] / positions, 0.0, 1.0));
        out.x.leftCols(full) = product(x, product(unit, kinds.vectors));
    }
    out.x.rightCols(empty) = product(x, Eigen::MatrixXcd(energy.vectors.leftCols(empty)));
    out.share.resize(static_cast<size_t>(m), 1.0);
    return out;
}

}  // namespace ringquell::internal
