// Private to the network stage: what several rows of the table have alike. `Get` is a lambda without captures
// that finds the parts' block from where a rule is applied.
#pragma once

#include <string>
#include <vector>

#include "network/builder.h"

namespace ringquell::internal {

using At = Rule::At;

inline std::vector<Part> joined(std::vector<Part> a, const std::vector<Part>& b) {
    a.insert(a.end(), b.begin(), b.end());
    return a;
}

/// Get: const std::optional<SeriesRlc>&.
template <class Get>
std::vector<Part> rlc_parts(const std::string& key, Get) {
    return {capacitance(key + ".capacitance", [](const At& at) { return Get{}(at)->capacitance_f; }),
            resistance(key + ".resistance", [](const At& at) { return Get{}(at)->resistance_ohm; }),
            inductance(key + ".inductance", [](const At& at) { return Get{}(at)->inductance_h; })};
}

/// Get: const Capacitor&.
template <class Get>
std::vector<Part> capacitor_parts(const std::string& key, Get) {
    return {capacitance(key + ".capacitance", [](const At& at) { return Get{}(at).capacitance_f; }),
            resistance(key + ".esr", [](const At& at) { return Get{}(at).esr_ohm; }),
            inductance(key + ".esl", [](const At& at) { return Get{}(at).esl_h; })};
}

/// Get: const ComplementaryDevice&; its capacitance at the point has a rule of its own.
template <class Get>
std::vector<Part> complementary_parts(const std::string& key, Complementary state, NumberOf capacitance_f,
                                      Get) {
    if (state == Complementary::conducting)
        return {resistance(key + ".on_resistance", [](const At& at) { return Get{}(at).on_resistance_ohm; })};
    return {capacitance(key + ".capacitance", capacitance_f),
            resistance(key + ".resistance", [](const At& at) { return Get{}(at).resistance_ohm; })};
}

}  // namespace ringquell::internal
