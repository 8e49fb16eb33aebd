// What rounding makes of eigenvalues that are equal or real, as shares of their size.
#pragma once

namespace ringquell::internal {

/// Equal eigenvalues split by rounding; this is far above that and far below what parts can tell.
inline constexpr double equal_eigenvalues = 1e-9;

/// A pair closer to the real axis (damping ratio above 1 − 5e-13) is two real eigenvalues that rounding joined.
inline constexpr double real_pair = 1e-6;
/// The same where eigenvalues come one by one, from shift-invert.
inline constexpr double single_real_pair = 1e-8;

}  // namespace ringquell::internal
