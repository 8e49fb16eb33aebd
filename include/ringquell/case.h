// The case: what an engineer wrote, as plain values in SI units. docs/case-file.md describes the keys,
// docs/model.md what they mean electrically. Defaults are written in the structs and nowhere else: an absent
// resistance or inductance in series is zero (a wire), an absent block is absent.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/case_board.h"
#include "ringquell/case_cure.h"
#include "ringquell/case_operation.h"
#include "ringquell/error.h"

namespace ringquell {

struct Case {
    std::string file;
    std::string title;
    std::vector<Position> positions;  // N of them, overrides merged in
    Buses buses;
    Driver driver;
    PowerLoop power_loop;
    std::vector<Coupling> couplings;
    Operation operation;
    Requirement require;
    std::vector<Tolerance> spread;
    CureRules cure;
    std::vector<Assumed> assumed;
    std::vector<MeasuredRing> measured;
    /// Hung on while something is measured; never in a case file, so that no key names them and writing leaves
    /// them out.
    std::vector<Probe> probes;
    std::vector<Warning> warnings;  // what the reader noticed

    int n() const { return static_cast<int>(positions.size()); }
    const std::optional<Bus>& bus(Rail rail) const { return buses[static_cast<size_t>(rail)]; }
};

}  // namespace ringquell
