// A case that is being changed, with what follows from it: its path and its modes.
#pragma once

#include <optional>

#include "ringquell/case.h"
#include "ringquell/modes.h"
#include "ringquell/operating_path.h"

namespace ringquell::internal {

/// Owns the case, its path and its solver, so that no change goes unnoticed by either. Not for two threads at
/// once.
class Trial {
  public:
    explicit Trial(const Case& input, Method method = Method::automatic);
    Trial(const Trial&) = delete;
    Trial& operator=(const Trial&) = delete;

    const Case& input() const { return case_; }

    /// Calls change(Case&). The path is walked anew when it is next asked for.
    template <class Change>
    void change(const Change& change) {
        path_.reset();
        change_network(change);
    }
    /// The same for a change that no operating point depends on: the path stays.
    template <class Change>
    void change_network(const Change& change) {
        change(case_);
        solver_.case_changed();
    }
    /// As fit_gate_resistor() of a case.
    void fit_gate_resistor(Edge edge, double ohm);

    /// Throws InputError where the case has no path. Valid until the next change.
    const OperatingPath& path();
    ModeSolver& solver() { return solver_; }
    Modes modes(const OperatingPoint& point) { return solver_.solve(point); }
    bool alike(const OperatingPoint& point) const { return solver_.alike(point); }

  private:
    Case case_;
    ModeSolver solver_;
    std::optional<OperatingPath> path_;
};

}  // namespace ringquell::internal
