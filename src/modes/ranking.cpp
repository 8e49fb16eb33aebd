#include "modes/ranking.h"

#include <cmath>

namespace ringquell::internal {

namespace {

/// The first mode that counts and has the least value; null where none counts.
template <class Counts, class Value>
const Mode* least(const std::vector<Mode>& modes, const Counts& counts, const Value& value) {
    const Mode* out = nullptr;
    for (const Mode& mode : modes)
        if (counts(mode) && (out == nullptr || value(mode) < value(*out))) out = &mode;
    return out;
}

}  // namespace

bool rings_in_band(const Mode& mode, const Requirement& require) {
    return mode.oscillates() && in_band(mode, require);
}

double damping_margin(const Mode& mode, const Requirement& require) {
    return mode.damping_ratio() - damping_target(mode, require);
}

const Mode* least_damped(const std::vector<Mode>& modes, ModeKind kind, const Requirement& require) {
    return least(
        modes, [&](const Mode& m) { return m.kind == kind && rings_in_band(m, require); },
        [](const Mode& m) { return m.damping_ratio(); });
}

const Mode* nearest_to_target(const std::vector<Mode>& modes, ModeKind kind, const Requirement& require) {
    return least(
        modes, [&](const Mode& m) { return m.kind == kind && rings_in_band(m, require); },
        [&](const Mode& m) { return damping_margin(m, require); });
}

const Mode* nearest_to(const std::vector<Mode>& modes, std::complex<double> eigenvalue) {
    return least(
        modes, [](const Mode&) { return true; },
        [&](const Mode& m) { return std::abs(m.eigenvalue - eigenvalue); });
}

bool any_grows(const std::vector<Mode>& modes) {
    return std::any_of(modes.begin(), modes.end(), grows);
}

double least_damping(const std::vector<Mode>& modes, const ModeTest& counts) {
    double out = 1;
    for (const Mode& mode : modes)
        if (counts(mode)) out = std::min(out, mode.damping_ratio());
    return out;
}

void hardest_first(std::vector<size_t>& order, const std::vector<PointResult>& results,
                   const std::function<double(const PointResult& result)>& hardness) {
    std::vector<double> hard(results.size());
    for (const size_t i : order) hard[i] = hardness(results[i]);
    std::stable_sort(order.begin(), order.end(), [&](size_t a, size_t b) { return hard[a] < hard[b]; });
}

}  // namespace ringquell::internal
