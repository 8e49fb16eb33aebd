#include "ringquell/ring_fit.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "bench/ring_fit_parts.h"
#include "ringquell/quantity.h"

namespace ringquell {

using namespace internal;

namespace {

constexpr std::size_t least_samples = 16;

std::string seconds(double s) {
    return engineering(s, Dimension::time, 6);
}

/// First and last+1 of the samples that a window asks for.
std::pair<size_t, size_t> asked_samples(const Waveform& record, const RingFitOptions& options) {
    const std::vector<double>& t = record.time_s;
    if (t.empty() || t.size() != record.value.size())
        throw InputError(options.place, "", "the record has no samples");
    const double from = options.from_s.value_or(t.front()), to = options.to_s.value_or(t.back());
    if (from >= to)
        throw InputError(
            options.place, "from",
            fmt::format("found a window from {} to {}; expected a later end", seconds(from), seconds(to)));
    const auto first = std::lower_bound(t.begin(), t.end(), from),
               last = std::upper_bound(t.begin(), t.end(), to);
    const auto count = static_cast<size_t>(std::max<std::ptrdiff_t>(0, last - first));
    if (count < least_samples)
        throw InputError(
            options.place,
            options.from_s ? "from"
            : options.to_s ? "to"
                           : "",
            fmt::format("found {} samples between {} and {}; expected {} or more (the record runs from "
                        "{} to {})",
                        count, seconds(from), seconds(to), least_samples, seconds(t.front()),
                        seconds(t.back())));
    const auto begin = static_cast<size_t>(first - t.begin());
    return {begin, begin + count};
}

/// Step and offset of the straight line through times against their number.
struct EvenTimes {
    double from_s = 0, step_s = 0;
};

EvenTimes line_through(const double* t, size_t n) {
    const auto count = static_cast<double>(n), middle = (count - 1) / 2;
    double mean = 0, slope = 0;
    for (size_t k = 0; k < n; ++k) mean += (t[k] - t[0]) / count;
    for (size_t k = 0; k < n; ++k) slope += (t[k] - t[0] - mean) * (static_cast<double>(k) - middle);
    slope *= 12 / (count * (count * count - 1));
    return {t[0] + mean - slope * middle, slope};
}

/// The most by which a time is off the line, in steps; empty where that is more than half a last printed digit, a
/// thousandth of a step, and rounding.
std::optional<double> off_line(const Waveform& record, size_t from, size_t to, const EvenTimes& line) {
    const double rounding = 8 * std::numeric_limits<double>::epsilon() *
                            std::max(std::abs(record.time_s[from]), std::abs(record.time_s[to - 1]));
    const double allowed = 0.51 * record.time_resolution_s + 1e-3 * line.step_s + rounding;
    double most = 0;
    for (size_t k = from; k < to; ++k)
        most = std::max(
            most, std::abs(record.time_s[k] - line.from_s - static_cast<double>(k - from) * line.step_s));
    return most > allowed ? std::nullopt : std::optional(most / line.step_s);
}

[[noreturn]] void fail_uneven(const Waveform& record, size_t from, size_t to, const Origin& place) {
    // The step that is farthest from the usual one says more than the sample that is off a line.
    std::vector<double> steps;
    steps.reserve(to - from);
    for (size_t k = from + 1; k < to; ++k) steps.push_back(record.time_s[k] - record.time_s[k - 1]);
    std::vector<double> sorted = steps;
    std::nth_element(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2),
                     sorted.end());
    const double usual = sorted[sorted.size() / 2];
    const auto odd = std::max_element(steps.begin(), steps.end(), [&](double a, double b) {
        return std::abs(std::log(a / usual)) < std::abs(std::log(b / usual));
    });
    throw InputError(place, "",
                     fmt::format("found a time step of {} after {}, where {} is usual; expected even steps",
                                 engineering(*odd, Dimension::time, 4),
                                 seconds(record.time_s[from + static_cast<size_t>(odd - steps.begin())]),
                                 engineering(usual, Dimension::time, 4)));
}

Window window_of(const Waveform& record, const RingFitOptions& options) {
    const auto [from, to] = asked_samples(record, options);
    for (size_t k = from; k < to; ++k)
        if (!std::isfinite(record.value[k]) || !std::isfinite(record.time_s[k]))
            throw InputError(options.place, "",
                             fmt::format("sample {} is not finite; expected a number", k + 1));
    for (size_t k = from + 1; k < to; ++k)
        if (record.time_s[k] <= record.time_s[k - 1])
            throw InputError(options.place, "",
                             fmt::format("found time {} after {}; expected rising times",
                                         seconds(record.time_s[k]), seconds(record.time_s[k - 1])));
    // All times tell the step best, where all are even: what is printed of each is rounded.
    Window out;
    EvenTimes line = line_through(record.time_s.data(), record.time_s.size());
    std::optional<double> off = off_line(record, 0, record.time_s.size(), line);
    if (!off) {
        line = line_through(record.time_s.data() + from, to - from);
        off = off_line(record, from, to, line);
        if (!off) fail_uneven(record, from, to, options.place);
        out.from_s = line.from_s;
    } else {
        out.from_s = line.from_s + static_cast<double>(from) * line.step_s;
    }
    // A line through exact times meets them but for rounding.
    constexpr double same = 1e-6;
    if (std::abs(out.from_s - record.time_s[from]) < same * line.step_s) out.from_s = record.time_s[from];
    out.step_s = line.step_s;
    out.value =
        Eigen::Map<const Eigen::VectorXd>(record.value.data() + from, static_cast<Eigen::Index>(to - from));
    constexpr double coarse = 0.02;
    if (*off > coarse)
        out.remarks.push_back(
            fmt::format("the times are printed to {}, coarse beside the step of {}: taken as even",
                        engineering(record.time_resolution_s, Dimension::time, 3),
                        engineering(out.step_s, Dimension::time, 4)));
    return out;
}

/// What is left over of every sample.
double left_over_rms(const Window& window, const JointFit& fit, Eigen::Index samples) {
    double sum = 0;
    constexpr Eigen::Index anew = 32;
    std::vector<std::complex<double>> now(fit.terms.size()), ratio(fit.terms.size());
    for (size_t k = 0; k < now.size(); ++k) ratio[k] = std::exp(fit.terms[k].exponent());
    for (Eigen::Index n = 0; n < samples; ++n) {
        double value = fit.constant;
        for (size_t k = 0; k < now.size(); ++k) {
            now[k] = n % anew == 0
                         ? fit.amplitudes[k] * std::exp(fit.terms[k].exponent() * static_cast<double>(n))
                         : now[k] * ratio[k];
            value += now[k].real();
        }
        sum += (window.value(n) - value) * (window.value(n) - value);
    }
    return std::sqrt(sum / static_cast<double>(samples));
}

void add_left_over(const Window& window, const JointFit& fit, RingFit& out) {
    out.noise_rms = left_over_rms(window, fit, fit.points() * fit.block);
    out.whiteness = fit.whiteness();
    out.whiteness_allowed = fit.whiteness_allowed();
    out.samples_per_point = static_cast<size_t>(fit.block);
}

[[noreturn]] void fail_silent(const Window& window, const RingFit& out, const Origin& place) {
    std::string text = fmt::format("nothing rings between {} and {}: what varies there is {:.3g} rms",
                                   seconds(out.from_s), seconds(out.to_s), out.noise_rms);
    if (std::abs(out.whiteness) > out.whiteness_allowed)
        text += fmt::format(", and no noise (its largest step is at {})", seconds(largest_step_s(window)));
    throw InputError(place, "",
                     text + "; expected a ring of two periods or more, from the window's start on");
}

void add_shown(const Window& window, const JointFit& fit, RingFit& out) {
    constexpr Eigen::Index most_shown = 2000;
    const Eigen::Index samples = fit.points() * fit.block, every = (samples + most_shown - 1) / most_shown;
    for (Eigen::Index n = 0; n < samples; n += every) {
        out.shown_time_s.push_back(window.time_s(n));
        out.shown_value.push_back(window.value(n));
        out.shown_fit.push_back(fit.value(static_cast<double>(n)));
    }
}

}  // namespace

double internal::largest_step_s(const Window& window) {
    const Eigen::Index n = window.value.size();
    Eigen::Index at = 0;
    (window.value.tail(n - 1) - window.value.head(n - 1)).cwiseAbs().maxCoeff(&at);
    return window.time_s(at + 1);
}

FittedRing internal::ring_of(const JointFit& fit, size_t term, double step_s) {
    const TermPlace place = places_of(fit.terms)[term];
    const Eigen::Index q = fit.fit.alpha.size();
    const DampedTerm& t = fit.terms[term];
    const double per_second = 1 / step_s, per_point = per_second / static_cast<double>(fit.block);
    const double sigma = t.decay, omega = t.frequency, size = std::hypot(sigma, omega);
    // ζ = σ/√(σ² + ω²), of σ and ω per sample; the covariance is of both per point.
    const double points = static_cast<double>(fit.block);
    const Eigen::Vector2d frequency_slope(0, per_point / (2 * std::numbers::pi));
    const Eigen::Vector2d damping_slope(omega * omega / std::pow(size, 3) / points,
                                        -sigma * omega / std::pow(size, 3) / points);
    const double variance = fit.fit.noise_variance() * fit.colour(term);
    const Eigen::Matrix2d c = variance * fit.fit.covariance.block<2, 2>(place.alpha, place.alpha);
    const std::complex<double> found(fit.fit.c(place.c), fit.fit.c(place.c + 1)), a = fit.amplitudes[term];
    const Eigen::Vector2d along(found.real() / std::abs(found), found.imag() / std::abs(found));
    const Eigen::Matrix2d d = variance * fit.fit.covariance.block<2, 2>(q + place.c, q + place.c);
    FittedRing out;
    out.frequency_hz = omega * per_second / (2 * std::numbers::pi);
    out.frequency_error_hz = std::sqrt(frequency_slope.dot(c * frequency_slope));
    out.damping_ratio = sigma / size;
    out.damping_error = std::sqrt(damping_slope.dot(c * damping_slope));
    out.amplitude = std::abs(a);
    out.amplitude_error = std::sqrt(along.dot(d * along)) * std::abs(a) / std::abs(found);
    out.phase_rad = std::arg(a);
    const double product = out.frequency_error_hz * out.damping_error;
    out.frequency_damping_correlation = product > 0 ? frequency_slope.dot(c * damping_slope) / product : 0;
    return out;
}

std::vector<size_t> internal::rings_of(const JointFit& fit) {
    const auto length = static_cast<double>(fit.points() * fit.block);
    std::vector<size_t> out;
    for (size_t k = 0; k < fit.terms.size(); ++k)
        if (fit.terms[k].swings && fit.terms[k].frequency * length >= 2 * std::numbers::pi) out.push_back(k);
    std::sort(out.begin(), out.end(), [&](size_t a, size_t b) { return fit.energy(a) > fit.energy(b); });
    return out;
}

RingFit fit_ring(const Waveform& record, const RingFitOptions& options) {
    const Window window = window_of(record, options);
    if (const auto edge = edge_within(window, options.most_rings))
        throw InputError(
            options.place, "from",
            fmt::format("found an edge at {}, within the window: a ring begins there; expected a window that "
                        "begins after it",
                        engineering(*edge, Dimension::time, 5)));
    const FoundTerms found = find_terms(window.value, options.most_rings);
    const JointFit& fit = found.fit;
    const std::vector<size_t> rings = rings_of(fit);
    const Eigen::Index samples = fit.points() * fit.block;
    RingFit out;
    out.from_s = window.from_s;
    out.to_s = window.time_s(samples - 1);
    out.samples = static_cast<size_t>(samples);
    out.sample_period_s = window.step_s;
    add_left_over(window, fit, out);
    if (rings.empty()) fail_silent(window, out, options.place);
    for (const size_t k : rings) out.rings.push_back(ring_of(fit, k, window.step_s));
    out.errors_enlarged = std::sqrt(fit.colour(rings.front()));
    const Eigen::Index last = fit.fit.covariance.rows() - 1;
    out.offset = fit.constant;
    out.offset_error =
        std::sqrt(fit.fit.noise_variance() * fit.colour(std::nullopt) * fit.fit.covariance(last, last));
    add_starts(window, fit, rings.front(), out);
    add_shown(window, fit, out);
    add_remarks(window, found, out);
    return out;
}

}  // namespace ringquell
