#include "sizing/window_sample.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "ringquell/error.h"
#include "ringquell/judge.h"

namespace ringquell::internal {

Sample Sampler::at(double value, bool look_closer) {
    ++evaluations_;
    Sample out;
    out.value = value;
    try {
        out.modes = search_.modes_at(value);
    } catch (const NumericalError& error) {
        if (failure_.empty())
            failure_ =
                fmt::format("at \"{}\" some values could not be judged ({})", search_.point, error.what());
        out.margin = -1;
        return out;
    }
    if (search_.uncertainty) forget_doubtful_growth(out);
    for (const Mode& mode : out.modes) {
        if (mode.kind != ModeKind::differential && !search_.common_too) continue;
        double margin = std::numeric_limits<double>::infinity();
        if (grows(mode)) margin = -1e-9 + std::min(0.0, mode.damping_ratio());
        if (mode.oscillates() && in_band(mode, *search_.require))
            margin = std::min(margin, mode.damping_ratio() - damping_target(mode, *search_.require));
        if (margin < out.margin) {
            out.margin = margin;
            out.mode = &mode;
        }
    }
    if (look_closer && search_.uncertainty) out.unsure = within_uncertainty(out);
    return out;
}

double Sampler::uncertainty(double value, const Mode& mode) const {
    try {
        return search_.uncertainty(value, mode);
    } catch (const NumericalError&) {
        return std::numeric_limits<double>::infinity();
    }
}

/// A mode whose growth is within its own uncertainty is none that grows: so a slow charge behind gigohms
/// comes out, whose eigenvalue is nothing beside the others.
void Sampler::forget_doubtful_growth(Sample& s) const {
    constexpr double hardly = 1e-3;  // damping ratio of a swing, share of the largest of another
    constexpr double sure = 10;      // the uncertainty is an estimate of first order
    double largest = 0;
    for (const Mode& m : s.modes) largest = std::max(largest, std::abs(m.eigenvalue));
    for (Mode& m : s.modes) {
        if (!grows(m)) continue;
        const double size = std::abs(m.eigenvalue);
        if (m.oscillates() ? m.damping_ratio() < -hardly : size > hardly * largest) continue;
        if (m.eigenvalue.real() <= sure * uncertainty(s.value, m) * size) m.eigenvalue.real(0);
    }
}

bool Sampler::within_uncertainty(const Sample& s) {
    constexpr double close = 0.05;  // a margin beyond it is no matter of rounding
    constexpr double varies = 1e3;  // from value to value and point to point
    if (s.mode == nullptr || !s.mode->oscillates() || std::abs(s.margin) > close) return false;
    Roughness& known = search_.roughness != nullptr ? *search_.roughness : roughness_;
    if (known.known && std::abs(s.margin) > varies * known.largest) return false;
    const double u = uncertainty(s.value, *s.mode);
    known.known = true;
    known.largest = std::max(known.largest, u);
    if (std::abs(s.margin) > u) return false;
    worst_doubt_ = std::max(worst_doubt_, u);
    return true;
}

}  // namespace ringquell::internal
