// Random numbers by counting: the n-th number of a stream is a function of its address, whatever was drawn
// before. All of it is integer and basic floating-point arithmetic, so that it gives the same bits on every
// machine.
#pragma once

#include <array>
#include <cstdint>

namespace ringquell::internal {

/// Philox4x32-10: four random words from a counter and a key (J. Salmon, M. Moraes, R. Dror, D. Shaw,
/// "Parallel random numbers: as easy as 1, 2, 3", SC 2011; constants and test vectors from memory).
std::array<std::uint32_t, 4> philox(std::array<std::uint32_t, 4> counter, std::array<std::uint32_t, 2> key);

/// Where a number stands: number `position` of stream `stream` in attempt `attempt` at sample `sample`.
struct RandomAddress {
    std::uint64_t seed = 0;
    std::uint64_t sample = 0;   // below 2^48
    std::uint32_t attempt = 0;  // below 2^16
    std::uint32_t stream = 0;
    std::uint32_t position = 0;
};

/// Uniform in the open interval (0, 1), 52 bits.
double uniform_number(const RandomAddress& address);

/// Φ(z) of the standard normal distribution, absolute error below 1e-14 (six squarings of an exponential),
/// for |z| ≤ 8 (beyond: 0 or 1).
double normal_probability(double z);
/// Φ⁻¹(p), 0 < p < 1: solves Φ(z) = p by Newton's method.
double normal_quantile(double p);

}  // namespace ringquell::internal
