// The points of a walk with their modes, for what is judged in passing.
#pragma once

#include <vector>

#include "modes/ranking.h"
#include "ringquell/families.h"
#include "ringquell/growth.h"

namespace ringquell::internal {

class WalkedModes {
  public:
    /// The next point; its modes are not copied.
    void add(const OperatingPoint& point, const Modes& modes) {
        points_.push_back(point);
        modes_.push_back(&modes);
        grows_in_passing_ = grows_in_passing_ || (!point.judged && any_grows(modes.modes));
    }
    /// Does something grow at a point that is not judged held?
    bool grows_in_passing() const { return grows_in_passing_; }
    Families follow(const Case& input) const { return follow_path(input, points_); }
    Passages pass(const Case& input, const Families& families) const {
        return pass_stages(input, points_, modes_, families);
    }

  private:
    std::vector<OperatingPoint> points_;
    std::vector<const Modes*> modes_;
    bool grows_in_passing_ = false;
};

}  // namespace ringquell::internal
