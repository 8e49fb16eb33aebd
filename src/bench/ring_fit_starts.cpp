// The strongest ring from later starts: capacitances move while it rings, and its frequency with them.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "bench/ring_fit_parts.h"

namespace ringquell::internal {

namespace {

constexpr Eigen::Index later_starts = 12;
constexpr Eigen::Index least_samples = 24, most_start_points = 8192;
constexpr double least_periods = 3;

/// The samples that later starts look at, first and end: all end where 12 decays have passed, or, of what does not
/// decay, at the end of the window, and begin where the time that may be spent on them allows.
std::pair<Eigen::Index, Eigen::Index> common_samples(const JointFit& fit, size_t strongest) {
    const Eigen::Index all = fit.points() * fit.block, most = most_start_points * fit.block;
    const double decay = fit.terms[strongest].decay;
    if (decay * static_cast<double>(all) <= 1) return {std::max<Eigen::Index>(0, all - most), all};
    const auto gone = static_cast<Eigen::Index>(12 / decay);
    return {0, std::min({all, most, std::max(50 * least_samples, gone)})};
}

/// By how much the latest start that leaves a ring to fit lies behind the first, in samples.
double latest_start(const JointFit& fit, size_t strongest, Eigen::Index samples) {
    const DampedTerm& term = fit.terms[strongest];
    const auto length = static_cast<double>(samples);
    const double period = 2 * std::numbers::pi / term.frequency;
    const double latest = std::min(
        0.75 * length, length - std::max(least_periods * period, static_cast<double>(least_samples)));
    if (term.decay <= 0) return latest;
    // Down to ten times the noise of a point, and to a fiftieth at all.
    const double fall = std::log(std::min(50.0, std::abs(fit.amplitudes[strongest]) / (10 * fit.noise())));
    return std::min(latest, fall / term.decay);
}

/// The term of a later fit that is this one.
std::optional<size_t> same_term(const JointFit& fit, const DampedTerm& term) {
    std::optional<size_t> out;
    for (size_t k = 0; k < fit.terms.size(); ++k) {
        if (!fit.terms[k].swings) continue;
        const double apart = std::abs(fit.terms[k].frequency - term.frequency);
        if (apart > 0.25 * term.frequency) continue;
        if (!out || apart < std::abs(fit.terms[*out].frequency - term.frequency)) out = k;
    }
    return out;
}

/// A start with the noise that its errors suppose, its colour included.
struct Start {
    RingStart start;
    double noise = 0;
};

double noise_at(const JointFit& fit, size_t term) {
    return fit.noise() * std::sqrt(fit.colour(term));
}

/// Of nested windows the difference of two efficient estimates varies by the difference of their variances (J. A.
/// Hausman, Econometrica 46 (1978) 1251: memory), both for the noise that the later one sees.
bool stands_still(double early, double early_error, double late, double late_error, double noise_ratio) {
    constexpr double rounding = 1e-9, deviations = 3.5;  // two dozen differences are looked at
    const double variance =
        std::max(0.0, late_error * late_error - early_error * early_error * noise_ratio * noise_ratio);
    return std::abs(late - early) <= deviations * std::sqrt(variance) + rounding * std::abs(early);
}

bool stands_still(const Start& a, const Start& b) {
    const FittedRing &early = a.start.ring, &late = b.start.ring;
    const double ratio = a.noise > 0 ? b.noise / a.noise : 1;
    return stands_still(early.frequency_hz, early.frequency_error_hz, late.frequency_hz,
                        late.frequency_error_hz, ratio) &&
           stands_still(early.damping_ratio, early.damping_error, late.damping_ratio, late.damping_error,
                        ratio);
}

std::optional<std::pair<double, double>> steady_part(const std::vector<Start>& starts) {
    constexpr size_t least = 3;
    size_t from = 0, count = 0;
    for (size_t i = 0; i < starts.size(); ++i) {
        size_t k = i + 1;
        while (k < starts.size() && stands_still(starts[i], starts[k])) ++k;
        if (k - i > count) {
            from = i;
            count = k - i;
        }
    }
    if (count < least) return std::nullopt;
    return std::pair{starts[from].start.from_s, starts[from + count - 1].start.from_s};
}

}  // namespace

void add_starts(const Window& window, const JointFit& fit, size_t strongest, RingFit& out) {
    const DampedTerm& term = fit.terms[strongest];
    std::vector<Start> starts{
        {{out.from_s, ring_of(fit, strongest, window.step_s)}, noise_at(fit, strongest)}};
    const auto [begin, end] = common_samples(fit, strongest);
    const double latest = latest_start(fit, strongest, end - begin);
    std::vector<DampedTerm> terms = fit.terms;
    Eigen::Index before = 0;
    for (Eigen::Index k = 1; k <= later_starts && latest > 0; ++k) {
        const double behind = latest * static_cast<double>(k) / static_cast<double>(later_starts);
        const Eigen::Index first = begin + static_cast<Eigen::Index>(behind);
        if (first == before) continue;
        before = first;
        const auto part = window.value.segment(first, end - first);
        FitEffort effort;
        effort.block = fit.block;
        auto later = fit_terms(part, terms, effort);
        if (!later) break;
        *later = paying_terms(part, std::move(*later), Price::known);
        const auto same = same_term(*later, term);
        if (!same) break;
        const FittedRing ring = ring_of(*later, *same, window.step_s);
        constexpr double useless = 0.5, little = 0.02;  // a damping known to half of itself
        if (ring.damping_error > useless * std::abs(ring.damping_ratio) + little) break;
        starts.push_back({{window.time_s(first), ring}, noise_at(*later, *same)});
        terms = later->terms;
    }
    for (const Start& start : starts) out.starts.push_back(start.start);
    out.steady = steady_part(starts);
}

}  // namespace ringquell::internal
