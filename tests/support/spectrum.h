// Lists of eigenvalues, compared one to one.
#pragma once

#include <doctest/doctest.h>

#include <algorithm>
#include <complex>
#include <limits>
#include <string>
#include <vector>

#include "ringquell/modes.h"
#include "ringquell/operating_path.h"
#include "support/relative.h"

namespace spectrum {

using Values = std::vector<std::complex<double>>;

/// Every eigenvalue of the list as often as it occurs, conjugates included.
inline Values of(const std::vector<ringquell::Mode>& modes) {
    Values out;
    for (const auto& mode : modes)
        for (int k = 0; k < mode.multiplicity; ++k) {
            out.push_back(mode.eigenvalue);
            if (mode.oscillates()) out.push_back(std::conj(mode.eigenvalue));
        }
    return out;
}

inline Values of_kind(const ringquell::Modes& modes, ringquell::ModeKind kind) {
    std::vector<ringquell::Mode> chosen;
    for (const auto& mode : modes.modes)
        if (mode.kind == kind) chosen.push_back(mode);
    return of(chosen);
}

inline Values between(const Values& values, double low, double high) {
    Values out;
    for (const auto& value : values)
        if (std::abs(value) >= low && std::abs(value) <= high) out.push_back(value);
    return out;
}

/// The largest relative distance when each of `a` is paired with the nearest left of `b`; infinite where one
/// is left over.
inline double distance(const Values& a, Values b) {
    if (a.size() != b.size()) return std::numeric_limits<double>::infinity();
    double worst = 0;
    for (const auto& value : a) {
        const auto nearest = std::min_element(
            b.begin(), b.end(), [&](auto x, auto y) { return std::abs(x - value) < std::abs(y - value); });
        worst = std::max(worst, relative_difference(*nearest, value));
        b.erase(nearest);
    }
    return worst;
}

inline std::string text(Values values) {
    std::sort(values.begin(), values.end(), [](auto x, auto y) {
        return std::abs(x) != std::abs(y) ? std::abs(x) < std::abs(y) : x.imag() < y.imag();
    });
    std::string out;
    for (const auto& value : values)
        out += "\n  " + std::to_string(value.real()) + " " + std::to_string(value.imag());
    return out;
}

/// The operating point of that name.
inline ringquell::OperatingPoint point(const ringquell::Case& input, const std::string& name) {
    for (const auto& candidate : ringquell::operating_path(input).points)
        if (candidate.name == name) return candidate;
    FAIL("no point of that name: ", name);
    return {};
}

/// All modes at one point. The case must outlive nothing: the solver is used up here.
inline ringquell::Modes solve(const ringquell::Case& input, const ringquell::OperatingPoint& at,
                              ringquell::Method method = ringquell::Method::automatic) {
    ringquell::ModeSolver solver(input, method);
    return solver.solve(at);
}

}  // namespace spectrum

#define CHECK_SPECTRA(a, b, tolerance)                                                   \
    do {                                                                                 \
        const spectrum::Values values_a_ = (a);                                          \
        const spectrum::Values values_b_ = (b);                                          \
        INFO(#a ":", spectrum::text(values_a_), "\n" #b ":", spectrum::text(values_b_)); \
        CHECK(values_a_.size() == values_b_.size());                                     \
        CHECK(spectrum::distance(values_a_, values_b_) <= (tolerance));                  \
    } while (false)
