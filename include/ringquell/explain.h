// Why a case fails or passes: the worst mode of each kind, element by element.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/check.h"

namespace ringquell {

struct ExplainedElement {
    ElementShare share;
    bool can_vary = false;            // the key is a number of the case that can be changed alone
    bool sought = false;              // passes_at was looked for
    std::optional<double> passes_at;  // SI; empty: not alone
};

struct ExplainedMode {
    FoundMode found;
    std::string point;
    std::vector<ExplainedElement> elements;  // by energy and damping, largest first
    double energy_sum = 0;                   // 1 to rounding
    double damping_sum = 0;                  // ζ to rounding
    double damping_needed = 0;               // the target of its kind
    std::vector<size_t> loop;                // elements that hold nine tenths of the energy, largest first
    std::vector<size_t> gain;                // elements that feed the mode
    std::vector<size_t> helps;               // the three whose change of a tenth raises the damping most
};

struct ExplainOptions {
    bool passing_values = true;
};

struct Explanation {
    CheckResult result;
    std::vector<ExplainedMode> modes;  // the worst differential, then the worst common one
};

Explanation explain(const Case& input, const ExplainOptions& options = {});
/// The same for a case that has been checked.
Explanation explain_checked(const Case& input, CheckResult result, const ExplainOptions& options = {});

}  // namespace ringquell
