// Integers modulo the Mersenne prime 2^61 − 1, for exact decisions about structure.
#pragma once

#include <bit>
#include <cstdint>

namespace ringquell::modular {

inline constexpr std::uint64_t prime = (std::uint64_t{1} << 61) - 1;

inline std::uint64_t multiply(std::uint64_t a, std::uint64_t b) {
    __extension__ using Wide = unsigned __int128;
    const Wide product = static_cast<Wide>(a) * b;
    const std::uint64_t sum =
        static_cast<std::uint64_t>(product & prime) + static_cast<std::uint64_t>(product >> 61);
    return sum >= prime ? sum - prime : sum;
}
inline std::uint64_t subtract(std::uint64_t a, std::uint64_t b) {
    return a >= b ? a - b : a + prime - b;
}
inline std::uint64_t add(std::uint64_t a, std::uint64_t b) {
    return subtract(a, b == 0 ? 0 : prime - b);
}

/// a^(p − 2), by Fermat the inverse of a ≠ 0.
inline std::uint64_t inverse(std::uint64_t a) {
    std::uint64_t result = 1;
    for (std::uint64_t exponent = prime - 2; exponent != 0; exponent >>= 1) {
        if (exponent & 1) result = multiply(result, a);
        a = multiply(a, a);
    }
    return result;
}

/// A residue for a value: ±1 and 0 are themselves, −x is the negative of x, the rest is scattered
/// (SplitMix64).
inline std::uint64_t residue(double value) {
    if (value == 0) return 0;
    if (value < 0) return subtract(0, residue(-value));
    if (value == 1) return 1;
    std::uint64_t z = std::bit_cast<std::uint64_t>(value) + 0x9e3779b97f4a7c15ULL;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
    z = (z ^ (z >> 31)) % prime;
    return z < 2 ? z + 2 : z;
}

}  // namespace ringquell::modular
