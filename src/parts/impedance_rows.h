// What the readers of impedance files share: rows become points as they come.
#pragma once

#include <string>
#include <vector>

#include "ringquell/impedance_file.h"

namespace ringquell::internal {

/// Neighbouring rows of one frequency, as analysers write them where two sweeps join, become one point, the
/// mean of their values, and a warning.
class ImpedanceRows {
  public:
    explicit ImpedanceRows(const std::string& file) : file_(file) {}

    /// Throws InputError at the line and column where the frequency falls.
    void add(const ImpedancePoint& point, int line, int column);
    size_t rows() const { return rows_; }
    const std::vector<ImpedancePoint>& points() const { return points_; }
    void add_warnings(std::vector<Warning>& warnings) const;

  private:
    std::string file_;
    std::vector<ImpedancePoint> points_;
    size_t rows_ = 0, merged_ = 0;
    int alike_ = 0;  // rows in the last point
    int first_line_ = 0;
    double first_hz_ = 0;
};

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

}  // namespace ringquell::internal
