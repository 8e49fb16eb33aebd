// From the modes of a sample's points to its outcome, the same for both paths.
#pragma once

#include <cmath>

#include "ringquell/judge.h"
#include "ringquell/spread.h"

namespace ringquell::internal {

class SampleJudge {
  public:
    SampleJudge(const Requirement& require, int positions) : require_(require), alone_(positions == 1) {}

    /// A mode that grows, or is in the band and of known kind.
    void add(const Mode& mode, int point, SampleOutcome& out) const {
        const bool growth = grows(mode);
        const bool counts = mode.oscillates() && in_band(mode, require_);
        if (!growth && !counts) return;
        const double damping = mode.damping_ratio();
        if (growth) out.grows = true;
        if (counts && mode.kind == ModeKind::differential && damping < damping_target(mode, require_))
            out.differential_misses = true;
        if (counts && mode.kind == ModeKind::common && damping < damping_target(mode, require_) &&
            !(damping >= out.common_damping_ratio))
            out.common_damping_ratio = damping;
        if (!growth && mode.kind == ModeKind::common && !alone_) return;
        if (damping > out.damping_ratio || (damping == out.damping_ratio && point >= out.point)) return;
        out.damping_ratio = damping;
        out.natural_frequency_hz = mode.natural_frequency_hz();
        out.kind = mode.kind;
        out.point = point;
    }
    /// The verdict, once all modes are in.
    void finish(SampleOutcome& out) const {
        out.passes = out.status == SampleOutcome::Status::judged && !out.grows && !out.grows_with_gain &&
                     !out.differential_misses && std::isnan(out.common_damping_ratio);
    }
    /// Below this damping a mode of the band must be known by kind, given what was found so far.
    double of_interest(const SampleOutcome& so_far) const {
        const double common = require_.common_damping.value_or(0);
        return std::isnan(so_far.damping_ratio) ? 1 : std::max(common, so_far.damping_ratio);
    }
    bool alone() const { return alone_; }
    const Requirement& require() const { return require_; }

  private:
    Requirement require_;
    bool alone_;
};

}  // namespace ringquell::internal
