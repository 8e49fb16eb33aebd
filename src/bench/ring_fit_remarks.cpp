// What a reader must know of the numbers of a fit, in plain sentences.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "bench/ring_fit_parts.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

namespace {

std::string hertz(double hz) {
    return engineering(hz, Dimension::frequency);
}

std::string seconds(double s) {
    return engineering(s, Dimension::time);
}

void on_sampling(const FoundTerms& found, RingFit& out) {
    constexpr double slow = 4;
    for (const FittedRing& ring : out.rings) {
        const double samples = 1 / (ring.frequency_hz * out.sample_period_s);
        if (samples < slow)
            out.remarks.push_back(
                fmt::format("{} is sampled only {:.2g} times a period: what is faster than half the "
                            "sampling rate may be folded onto it; sample ten times a period or more",
                            hertz(ring.frequency_hz), samples));
    }
    if (found.near_nyquist)
        out.remarks.push_back(
            fmt::format("something swings near {}, half the sampling rate: it may be faster, and "
                        "folded down; sample faster",
                        hertz(0.5 / out.sample_period_s)));
    constexpr double odd_step_s = 1e-3;
    if (out.sample_period_s > odd_step_s)
        out.remarks.push_back(fmt::format("the samples are {} apart: a time without a unit is in seconds",
                                          seconds(out.sample_period_s)));
}

void on_length(RingFit& out) {
    constexpr double few = 2;
    for (const FittedRing& ring : out.rings) {
        const double periods = ring.frequency_hz * static_cast<double>(out.samples) * out.sample_period_s;
        if (periods < few)
            out.remarks.push_back(
                fmt::format("the window holds only {:.2g} periods of {}: its frequency and damping lean on "
                            "what is assumed of the base line; take two periods or more",
                            periods, hertz(ring.frequency_hz)));
    }
}

void on_growth(RingFit& out) {
    for (const FittedRing& ring : out.rings)
        if (ring.damping_ratio < -3 * ring.damping_error)
            out.remarks.push_back(fmt::format("{} grows", hertz(ring.frequency_hz)));
}

/// The longest row of samples at one extreme, if it is longer than a peak of a swing leaves there: of the time near
/// the extreme, within three steps of the digitiser and a fiftieth of the whole swing, more than seven tenths (a
/// parabola's peak has half at the most).
Eigen::Index clipped_at(const Eigen::VectorXd& value, double extreme, double near) {
    Eigen::Index longest = 0, best = 0, equal = 0, close = 0;
    const auto end_of_peak = [&] {
        constexpr Eigen::Index least = 4;
        if (longest >= least && static_cast<double>(longest) > 0.7 * static_cast<double>(close))
            best = std::max(best, longest);
        longest = equal = close = 0;
    };
    for (const double v : value) {
        if (std::abs(v - extreme) > near) {
            if (close > 0) end_of_peak();
            continue;
        }
        ++close;
        equal = v == extreme ? equal + 1 : 0;
        longest = std::max(longest, equal);
    }
    end_of_peak();
    return best;
}

void on_clipping(const Window& window, RingFit& out) {
    const Eigen::VectorXd value = window.value.head(static_cast<Eigen::Index>(out.samples));
    double step = std::numeric_limits<double>::infinity();
    for (Eigen::Index n = 1; n < value.size(); ++n)
        if (const double s = std::abs(value(n) - value(n - 1)); s > 0) step = std::min(step, s);
    const double swing = value.maxCoeff() - value.minCoeff(), near = std::max(swing / 50, 3.01 * step);
    if (near > swing / 4) return;  // a digitiser of a few steps: nothing to be told
    for (const bool high : {true, false}) {
        const double extreme = high ? value.maxCoeff() : value.minCoeff();
        if (const Eigen::Index n = clipped_at(value, extreme, near))
            out.remarks.push_back(
                fmt::format("{} samples in a row stand at the window's {} value, {:.4g}: clipped? Then "
                            "amplitude and damping are not the ring's",
                            n, high ? "highest" : "lowest", extreme));
    }
}

void on_base_line(const FoundTerms& found, RingFit& out) {
    const JointFit& fit = found.fit;
    const auto length = static_cast<double>(out.samples);
    for (size_t k = 0; k < fit.terms.size(); ++k) {
        const DampedTerm& term = fit.terms[k];
        const double amplitude = std::abs(fit.amplitudes[k]);
        if (!term.swings) {
            const double end = fit.amplitudes[k].real() * std::exp(-term.decay * length);
            const double moves = std::abs(end - fit.amplitudes[k].real());
            out.remarks.push_back(
                fmt::format("the base line moves by {:.3g} within the window, with a time constant of "
                            "{}: fitted beside the ring",
                            moves, seconds(out.sample_period_s / std::abs(term.decay))));
        } else if (term.frequency * length < 2 * std::numbers::pi) {
            out.remarks.push_back(
                fmt::format("the base line swings by {:.3g}, less than one period within the window: "
                            "taken for drift",
                            amplitude));
        }
    }
}

void on_close_rings(RingFit& out) {
    for (size_t a = 0; a < out.rings.size(); ++a)
        for (size_t b = a + 1; b < out.rings.size(); ++b) {
            const FittedRing &p = out.rings[a], &q = out.rings[b];
            const double width =
                std::abs(p.damping_ratio) * p.frequency_hz + std::abs(q.damping_ratio) * q.frequency_hz;
            if (std::abs(p.frequency_hz - q.frequency_hz) < width)
                out.remarks.push_back(
                    fmt::format("{} and {} lie within their widths: two modes so close, or one ring that "
                                "moves while it rings",
                                hertz(p.frequency_hz), hertz(q.frequency_hz)));
        }
}

void on_left_over(const Window& window, const FoundTerms& found, RingFit& out) {
    if (found.shadow)
        out.remarks.push_back(fmt::format(
            "beside a stronger ring one of {:.2g} % of its energy within its width, {}, would fit too: a "
            "mode so close, or a ring that moves while it rings; it stays in what is left over",
            100 * found.shadow->second,
            hertz(found.shadow->first / (2 * std::numbers::pi * out.sample_period_s))));
    const Eigen::VectorXd value = window.value.head(static_cast<Eigen::Index>(out.samples));
    const double all = std::sqrt((value.array() - value.mean()).square().mean());
    constexpr double negligible = 1e-6;
    if (std::abs(out.whiteness) <= out.whiteness_allowed || out.noise_rms <= negligible * all) return;
    const std::string errors =
        out.errors_enlarged > 1.05
            ? fmt::format("the strongest ring's errors are {:.2g} times those of white noise",
                          out.errors_enlarged)
            : "near the strongest ring it is no stronger than white noise";
    out.remarks.push_back(fmt::format(
        "what is left over, {:.3g} rms, is no white noise (correlation {:.2f} from point to point, white has "
        "less than {:.2f}): {}",
        out.noise_rms, out.whiteness, out.whiteness_allowed, errors));
    constexpr double much = 0.4;
    if (out.noise_rms > much * all)
        out.remarks.push_back(
            fmt::format("most of what moves in this window is no damped ring; its largest step is at {}: "
                        "let the window begin after it",
                        engineering(largest_step_s(window), Dimension::time, 5)));
}

void on_starts(RingFit& out) {
    if (out.starts.size() < 3) return;
    const RingStart &first = out.starts.front(), &last = out.starts.back();
    if (out.steady && out.steady->first == first.from_s && out.steady->second == last.from_s) return;
    const std::string moves =
        fmt::format("from {} and {:.4f} to {} and {:.4f} as the start goes from {} to {}",
                    engineering(first.ring.frequency_hz, Dimension::frequency, 5), first.ring.damping_ratio,
                    engineering(last.ring.frequency_hz, Dimension::frequency, 5), last.ring.damping_ratio,
                    seconds(first.from_s), seconds(last.from_s));
    if (!out.steady)
        out.remarks.push_back(
            fmt::format("frequency or damping of the strongest ring moves ({}) and stands still nowhere "
                        "within its errors: a ring of changing capacitance, or several in one",
                        moves));
    else
        out.remarks.push_back(
            fmt::format("frequency or damping of the strongest ring moves ({}); both stand still for "
                        "starts from {} to {}: fit from there",
                        moves, seconds(out.steady->first), seconds(out.steady->second)));
}

}  // namespace

void add_remarks(const Window& window, const FoundTerms& found, RingFit& out) {
    out.remarks = window.remarks;
    if (static_cast<Eigen::Index>(out.samples) + 2 * found.fit.block < window.value.size())
        out.remarks.push_back(fmt::format("of the window the part up to {} is used, {} points: enough",
                                          engineering(out.to_s, Dimension::time, 5), found.fit.points()));
    if (!found.fit.fit.converged)
        out.remarks.push_back(
            "the fit did not settle: more rings than it can tell apart, or none that is one; take a "
            "shorter window");
    on_sampling(found, out);
    on_length(out);
    on_growth(out);
    on_clipping(window, out);
    on_base_line(found, out);
    on_close_rings(out);
    on_left_over(window, found, out);
    on_starts(out);
}

}  // namespace ringquell::internal
