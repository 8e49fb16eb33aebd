// CSV with an impedance against frequency.
#pragma once

#include <string>
#include <vector>

#include "ringquell/impedance_file.h"

namespace ringquell::internal {

/// Columns named by the first line that is not empty nor a comment (#): frequency with its unit (Hz, kHz,
/// MHz, GHz), and either R and X or |Z| and phase. Ohm (mohm, kohm) and degrees (rad) are assumed where no
/// unit is given; other columns are ignored. Separators: tab, semicolon or comma, whichever of these the
/// header has, in this order. `f_MHz,R_ohm,X_ohm` and `frequency (Hz), |Z| (ohm), phase (deg)` are both
/// understood.
std::vector<ImpedancePoint> parse_impedance_csv(const std::string& text, const std::string& file,
                                                std::vector<Warning>* warnings = nullptr);

}  // namespace ringquell::internal
