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

}  // namespace ringquell::internal
