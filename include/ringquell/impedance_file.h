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
    bool passive =
        true;  // Re Z ≥ 0; of scattering data |S| ≤ 1, of admittances Re Y ≥ 0: the same, unrounded
};

/// A larger file is refused: no impedance curve needs so many points.
inline constexpr size_t largest_impedance_file_bytes = 4 * 1024 * 1024;

/// Reads a file by its name's ending, in any case: .s1p and .ts as Touchstone, all else as CSV. Frequencies
/// come out strictly rising, at least one point: neighbouring rows of one frequency are merged into the mean
/// of their values. InputError with file, line and column for anything malformed. To `warnings` is added what
/// was mended: such rows, and a missing [End].
std::vector<ImpedancePoint> read_impedance_file(const std::string& path,
                                                std::vector<Warning>* warnings = nullptr);

/// Touchstone 1.1 and 2.0 (specification of the IBIS Open Forum), one port. The option line's fields come in
/// any order and case, defaults GHz S MA R 50. S: Z = R·(1 + S)/(1 − S). Version 1 holds Z and Y normalised
/// to R, version 2 in ohm and siemens; [Reference] of version 2 takes the place of R. Without an option line
/// the units are unknown: an error. `file` is for messages.
std::vector<ImpedancePoint> parse_touchstone(const std::string& text, const std::string& file,
                                             std::vector<Warning>* warnings = nullptr);

/// Columns named by the first line that is not empty nor a comment (#): frequency with its unit (Hz, kHz,
/// MHz, GHz), and either R and X or |Z| and phase. Ohm (mohm, kohm) and degrees (rad) are assumed where no
/// unit is given; other columns are ignored. Separators: tab, semicolon or comma, whichever of these the
/// header has, in this order. `f_MHz,R_ohm,X_ohm` and `frequency (Hz), |Z| (ohm), phase (deg)` are both
/// understood.
std::vector<ImpedancePoint> parse_impedance_csv(const std::string& text, const std::string& file,
                                                std::vector<Warning>* warnings = nullptr);

}  // namespace ringquell
