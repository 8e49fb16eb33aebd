// Two cases side by side: what differs in what goes in and in what comes out, and which input did it.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/check.h"

namespace ringquell {

/// A number or another input of which the cases differ.
struct ComparedInput {
    std::string key;
    std::vector<int> positions;  // at which it differs; empty: not of positions
    std::string a, b;            // as text; "absent" where a case lacks it
    /// Of the difference of the least damping; empty where that was not parted.
    std::optional<double> part;
};

struct Comparison {
    CheckResult a, b;
    std::string file_a, file_b;
    std::vector<ComparedInput> inputs;       // by the size of their part, else in the order of a case
    ModeKind kind = ModeKind::differential;  // common for one position
    /// The least damping ratio of that kind in the band, over all points judged held; empty: none oscillates.
    std::optional<double> worst_a, worst_b;
    std::optional<Mode> least_a, least_b;  // the modes that have it
    /// What is left of the difference when all parts are summed: modes that enter or leave the band, or change
    /// their kind, on the way; else the error of the sum, a hundredth of the difference at most.
    double change_of_kind = 0;
    bool parted = false;
    std::string why_not_parted;
};

/// With W(t) the least damping over all points of the case that lies at share t of the way from a to b, all
/// numbers moving in proportion, dW/dt is that of the mode that is then the least. It is the sum of what each
/// number does to it; integrated from 0 to 1 that is the number's part, and the parts sum to W(1) − W(0). What
/// one of the cases lacks enters it where it does nothing (a capacitance of 0, inductance and resistance in
/// series of 0). Where positions, kinds or forms differ there is no way between, and nothing is parted. Swapped
/// cases give the same parts with the other sign.
/// Throws InputError and NumericalError as check() does.
Comparison compare(const Case& a, const Case& b);

}  // namespace ringquell
