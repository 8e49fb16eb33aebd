// Measured one-port impedances from files: Touchstone 1.1 and 2.0, and CSV.
#pragma once

#include <complex>
#include <cstddef>
#include <string>
#include <vector>

#include "ringquell/error.h"

namespace ringquell {

struct ImpedancePoint {
    double frequency_hz = 0;
    std::complex<double> impedance_ohm;
    /// Re Z ≥ 0; of scattering data |S| ≤ 1, of admittances Re Y ≥ 0: the same, unrounded.
    bool passive = true;
};

/// A larger file is refused: no impedance curve needs so many points.
inline constexpr size_t largest_impedance_file_bytes = 4 * 1024 * 1024;

/// Reads a file by its name's ending, in any case: .s1p and .ts as Touchstone, all else as CSV. Frequencies
/// come out strictly rising, at least one point: neighbouring rows of one frequency are merged into the mean
/// of their values. InputError with file, line and column for anything malformed. To `warnings` is added what
/// was mended: such rows, and a missing [End].
std::vector<ImpedancePoint> read_impedance_file(const std::string& path,
                                                std::vector<Warning>* warnings = nullptr);

}  // namespace ringquell
