#include "sizing/trial.h"

#include "ringquell/acceptable.h"

namespace ringquell::internal {

Trial::Trial(const Case& input, Method method) : case_(input), solver_(case_, method) {}

void Trial::fit_gate_resistor(Edge edge, double ohm) {
    change([&](Case& input) { ringquell::fit_gate_resistor(input, edge, ohm); });
}

const OperatingPath& Trial::path() {
    if (!path_) path_ = operating_path(case_);
    return *path_;
}

}  // namespace ringquell::internal
