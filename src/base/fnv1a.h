// FNV-1a: shows that two texts differ; it is no signature.
#pragma once

#include <cstdint>
#include <string_view>

namespace ringquell::internal {

/// Offset bases and primes of draft-eastlake-fnv.
template <class Word>
constexpr Word fnv1a(std::string_view text, Word basis, Word prime) {
    for (const char c : text) basis = (basis ^ static_cast<unsigned char>(c)) * prime;
    return basis;
}
constexpr std::uint32_t fnv1a_32(std::string_view text) {
    return fnv1a<std::uint32_t>(text, 0x811c9dc5, 0x01000193);
}
constexpr std::uint64_t fnv1a_64(std::string_view text) {
    return fnv1a<std::uint64_t>(text, 0xcbf29ce484222325, 0x100000001b3);
}

}  // namespace ringquell::internal
