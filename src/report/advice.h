// What to do about a verdict: the remedies that fit, before they are words.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "ringquell/check.h"

namespace ringquell::internal {

struct Advice {
    bool sized = false;    // gate resistors were sought; else there is no advice
    bool confirm = false;  // it passes: nothing on paper, measure

    /// A value that makes everything pass on its edges, at every position.
    struct Fit {
        double ohm = 0;
        std::string key;  // of the resistor
        std::vector<Edge> edges;
    };
    /// The least that a short search found, where it is more than gate resistors.
    std::optional<FirstCure> least;
    std::vector<Fit> fits;
    std::vector<Edge> no_value;  // no gate resistor is acceptable: see `differential`
    std::vector<Edge> others;    // one is, but another mode fails all the same

    /// For differential modes that no gate resistor cures.
    enum class Differential { loss, another_snubber, gate_of_each_die, another_bead, bead };
    Differential differential = Differential::bead;
    /// The loops ring by themselves: what rings where no device conducts, if anything does.
    struct Ringing {
        double damping_ratio = 0;
        std::string point;
    };
    std::optional<Ringing> rings_at_threshold;
    bool fed_as_well = false;  // by gain: loss in the loops is not all

    enum class Common { no_need, fed_by_gain, rings };
    Common common = Common::no_need;
    bool passage_grows = false;  // too much, and no resistor cures it
    bool grows_with_required_gain = false;
};

Advice advice(const CheckResult& result);

/// As clauses of a sentence; empty where none is given.
std::string advice_words(const Advice& advice);

}  // namespace ringquell::internal
