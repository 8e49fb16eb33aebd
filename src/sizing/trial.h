// A case whose numbers are being moved.
#pragma once

#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/modes.h"
#include "ringquell/numbers.h"
#include "ringquell/operating_path.h"

namespace ringquell::internal {

/// A case of one's own in which numbers are moved together, its path and its solver.
class Trial {
  public:
    /// Throws InputError where a key names no number of the case.
    Trial(const Case& input, const std::vector<std::string>& keys);
    Trial(const Trial&) = delete;
    Trial& operator=(const Trial&) = delete;

    /// The first key's value, the others in proportion. Throws InputError where the case cannot be with it.
    void set(double value);
    /// Does every network of the case exist with this value? Not, say, where inductances would share more
    /// flux than there is.
    bool possible(double value);
    /// The last value on the way from `start`, which can be, towards `end` that can be, a little before the
    /// first that cannot. What can be is a range: inductance matrices that are positive definite are a convex
    /// set.
    double reach(double start, double end);
    std::vector<Mode> modes(size_t point, double value);
    /// The value set last, whether it could be or not.
    double tried() const { return tried_; }
    /// Does everything asked hold there: dampings, no growth, nor with the gain margin asked?
    bool passes(size_t point, double value);
    const OperatingPath& path() const { return path_; }
    const Case& input() const { return case_; }
    bool alike(size_t point) const { return alike(path_.points[point]); }
    bool alike(const OperatingPoint& point) const { return solver_->alike(point); }

    Dimension dimension = Dimension::number;
    double now = 0;

  private:
    Case case_;
    std::vector<Number> numbers_;
    std::vector<double> factors_;
    OperatingPath path_;
    std::optional<ModeSolver> solver_;
    bool walk_again_ = false;
    double at_ = std::nan(""), tried_ = std::nan("");
};

/// The highest value that is looked at where nothing else is asked: ten times the value now.
double default_top(Dimension dimension, double now, const Requirement& require);

}  // namespace ringquell::internal
