// White normal noise from a fixed seed, the same on every machine.
#pragma once

#include <cmath>
#include <numbers>
#include <random>

class Noise {
  public:
    explicit Noise(std::uint64_t seed) : words_(seed) {}
    /// Mean 0, variance 1 (G. E. P. Box, M. E. Muller, Ann. Math. Stat. 29, 1958, 610: memory).
    double operator()() {
        const double radius = std::sqrt(-2 * std::log(uniform())), angle = 2 * std::numbers::pi * uniform();
        return radius * std::cos(angle);
    }

  private:
    double uniform() { return (static_cast<double>(words_() >> 11) + 0.5) * 0x1p-53; }
    std::mt19937_64 words_;
};
