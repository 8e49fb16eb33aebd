// From how many positions on something costs too much to be done as for a few, and what it costs there.
//
// Where positions are alike every one of these costs what one position does; they count for uneven layouts
// unless said otherwise.
#pragma once

namespace ringquell::internal {

/// A point takes milliseconds, so that points are shared among the processors.
inline constexpr int points_in_parallel_from = 8;
/// The grid of gain factors is rough, and a gain margin is sought only where it is asked for: minutes.
inline constexpr int rough_gain_from = 16;
/// A plane of damping takes minutes.
inline constexpr int no_damping_plane_from = 16;
/// The most of which the vectors of all points are followed; of more they take many seconds.
inline constexpr int most_followed = 16;
/// Judging one value of the gate resistor takes seconds, so that only a few are tried, alike or not.
inline constexpr int few_values_from = 32;
/// 59 samples take minutes, so that a resistor is preferred by its margin, alike or not.
inline constexpr int no_samples_from = 64;
/// Shift-invert over the band is cheaper than all eigenvalues.
inline constexpr int sparse_from = 128;

/// Unknowns of which all modes with their vectors are found in about a second.
inline constexpr int most_unknowns_dense = 400;

}  // namespace ringquell::internal
