// A case of which some numbers are being moved.
#pragma once

#include <cmath>
#include <string>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/numbers.h"
#include "sizing/trial.h"

namespace ringquell::internal {

/// A trial in which numbers are moved together.
class MovedNumbers {
  public:
    /// Throws InputError where a key names no number of the case.
    MovedNumbers(const Case& input, const std::vector<std::string>& keys);

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
    const OperatingPath& path() { return trial_.path(); }
    const Case& input() const { return trial_.input(); }
    bool alike(size_t point) { return trial_.alike(path().points[point]); }

    Dimension dimension = Dimension::number;
    double now = 0;

  private:
    Trial trial_;
    std::vector<Number> numbers_;  // of the trial's case
    std::vector<double> factors_;
    bool path_moves_ = false;
    double at_ = std::nan(""), tried_ = std::nan("");
};

/// The highest value that is looked at where nothing else is asked: ten times the value now, of a junction
/// temperature what power devices are rated for.
double default_top(Dimension dimension, double now, const Requirement& require);
/// The lowest junction temperature that is looked at.
double default_coldest(double now_degc);

}  // namespace ringquell::internal
