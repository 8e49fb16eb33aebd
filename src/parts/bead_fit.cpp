#include "ringquell/bead_fit.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "parts/bead_network.h"
#include "ringquell/quantity.h"

namespace ringquell {

using namespace internal;

namespace {

using std::numbers::pi;

/// A section more must take away a tenth of the error, or, of few points, what it takes away from mere noise
/// (Schwarz's criterion: ln m per two parameters and m residuals).
constexpr double least_gain = 0.10536;  // −ln 0.9
/// Far below this error, itself below any instrument's, a section more is not worth its state variables.
constexpr double good_enough = 2e-5;
/// With this much gained by the last three sections the rest are not tried.
constexpr double no_gain = 0.01;
/// Start values are sought on at most so many points; the result is refined on all of them.
constexpr size_t most_points_for_starts = 200;
/// Above these a fit is called poor; 2 % and 5 % are what impedance meters and the parts' own spread leave
/// open.
constexpr double poor_rms = 0.02;
constexpr double poor_share = 0.95;
/// From here on loss is called overstated (see LossOverstated); spread and temperature move it by less.
constexpr double overstating = 1.5;
/// A band's end that is nearer than this to the data's is reached: sweeps seldom end on round numbers.
constexpr double nearly = 1.02;

BeadData thinned(const BeadData& data) {
    const size_t n = data.omega.size();
    if (n <= most_points_for_starts) return data;
    BeadData out;
    for (size_t i = 0; i < most_points_for_starts; ++i) {
        const size_t from = i * (n - 1) / (most_points_for_starts - 1);
        out.omega.push_back(data.omega[from]);
        out.z.push_back(data.z[from]);
    }
    return out;
}

struct Candidate {
    BeadElements elements;
    double error = 0;
};

bool overstates(std::complex<double> fitted, std::complex<double> measured) {
    return fitted.imag() > fitted.real() && fitted.real() > overstating * measured.real() &&
           fitted.real() - measured.real() > poor_rms * std::abs(measured);
}

/// The networks with one section more: each section split in two, and one added at corners over the band.
std::vector<BeadElements> with_one_more(const BeadElements& e, const BeadData& data) {
    std::vector<BeadElements> out;
    for (size_t i = 0; i < e.sections.size(); ++i) {
        BeadElements split = e;
        split.sections[i].resistance_ohm /= 2;
        split.sections.insert(split.sections.begin() + static_cast<std::ptrdiff_t>(i), split.sections[i]);
        split.sections[i].corner_rad_per_s /= 2;
        split.sections[i + 1].corner_rad_per_s *= 2;
        out.push_back(std::move(split));
    }
    const double low = data.omega.front() / 10;
    const double high = data.omega.back() * 10;
    constexpr int places = 6;
    for (int i = 0; i < places; ++i) {
        const double corner = low * std::pow(high / low, (i + 0.5) / places);
        BeadElements added = e;
        // A hundredth of the impedance there: small enough not to spoil the rest, large enough to be felt.
        added.sections.push_back({0.01 * std::abs(impedance_ohm(e, corner)), corner});
        out.push_back(std::move(added));
    }
    return out;
}

/// The same with a DC resistance that is free to move, from a hundredth of the least impedance.
Candidate with_dc_resistance(Candidate c, const BeadData& few, const BeadData& all) {
    double least = INFINITY;
    for (const auto& z : all.z) least = std::min(least, std::abs(z));
    c.elements.dc_resistance_known = false;
    c.elements.dc_resistance_ohm = 0.01 * least;
    refine(c.elements, few, BeadObjective::relative, 60);
    if (few.omega.size() < all.omega.size()) refine(c.elements, all, BeadObjective::relative, 10);
    c.error = relative_rms(c.elements, all);
    return c;
}

/// The best network found with n sections, given the best with n − 1 and the starts.
Candidate best_with(size_t n, const std::vector<BeadElements>& starts, const BeadElements* smaller,
                    const BeadData& few, const BeadData& all) {
    std::vector<BeadElements> trials;
    for (const BeadElements& start : starts) {
        if (start.sections.size() >= n) trials.push_back(merged_to(start, n));
    }
    if (smaller != nullptr) {
        for (BeadElements& more : with_one_more(*smaller, few)) trials.push_back(std::move(more));
    }
    std::vector<Candidate> tried;
    for (BeadElements& trial : trials) {
        refine(trial, few, BeadObjective::logarithmic, 12);
        const double error = relative_rms(trial, few);
        tried.push_back({std::move(trial), error});
    }
    std::sort(tried.begin(), tried.end(), [](const auto& a, const auto& b) { return a.error < b.error; });
    Candidate best{{}, INFINITY};
    for (size_t i = 0; i < std::min<size_t>(tried.size(), 3); ++i) {
        refine(tried[i].elements, few, BeadObjective::relative, 100);
        const double error = relative_rms(tried[i].elements, few);
        if (error < best.error) best = {std::move(tried[i].elements), error};
    }
    if (std::isfinite(best.error) && few.omega.size() < all.omega.size()) {
        refine(best.elements, all, BeadObjective::relative, 10);
        best.error = relative_rms(best.elements, all);
    }
    return best;
}

/// Without what the impedance does not feel over the data: 1e-8 of it.
BeadElements pruned(BeadElements e, const BeadData& data) {
    const auto unfelt = [&](const BeadElements& without) {
        for (const double w : data.omega) {
            const auto z = impedance_ohm(e, w);
            if (std::abs(impedance_ohm(without, w) - z) > 1e-8 * std::abs(z)) return false;
        }
        return true;
    };
    for (size_t i = e.sections.size(); i-- > 0 && e.sections.size() > 1;) {
        BeadElements without = e;
        without.sections.erase(without.sections.begin() + static_cast<std::ptrdiff_t>(i));
        if (unfelt(without)) e = std::move(without);
    }
    BeadElements without = e;
    without.capacitance_f = 0;
    if (unfelt(without)) e = without;
    without = e;
    if (!e.dc_resistance_known) without.dc_resistance_ohm = 0;
    if (unfelt(without)) e = without;
    return e;
}

void check(const std::vector<ImpedancePoint>& points, const BeadFitOptions& o) {
    if (!(o.band_low_hz > 0 && o.band_low_hz < o.band_high_hz && std::isfinite(o.band_high_hz))) {
        throw InputError(o.place, "band",
                         fmt::format("found {} Hz to {} Hz; expected two positive frequencies, rising",
                                     o.band_low_hz, o.band_high_hz));
    }
    if (o.most_sections < 1 || o.most_sections > 8) {
        throw InputError(o.place, "sections", fmt::format("found {}; expected 1 to 8", o.most_sections));
    }
    if (o.dc_resistance_ohm && !(*o.dc_resistance_ohm >= 0 && std::isfinite(*o.dc_resistance_ohm))) {
        throw InputError(o.place, "dc_resistance",
                         fmt::format("found {} ohm; expected 0 or more", *o.dc_resistance_ohm));
    }
    for (size_t i = 1; i < points.size(); ++i) {
        if (!(points[i].frequency_hz > points[i - 1].frequency_hz)) {
            throw InputError(o.place, "curve",
                             fmt::format("found {} Hz after {} Hz; expected frequencies strictly rising",
                                         points[i].frequency_hz, points[i - 1].frequency_hz));
        }
    }
}

Bead bead_of(const BeadElements& e) {
    Bead bead;
    bead.dc_resistance_ohm = e.dc_resistance_ohm;
    bead.capacitance_f = e.capacitance_f;
    for (const auto& s : e.sections)
        bead.sections.push_back({s.resistance_ohm, s.resistance_ohm / s.corner_rad_per_s});
    return bead;
}

void judge(BeadFit& fit) {
    double sum = 0;
    int close = 0;
    for (BeadFitPoint& p : fit.points) {
        p.fitted_ohm = bead_impedance_ohm(fit.bead, {0, 2 * pi * p.frequency_hz});
        const double size = std::abs(p.measured_ohm);
        p.relative_error = size > 0 ? std::abs(p.fitted_ohm - p.measured_ohm) / size : 0;
        if (!p.used()) continue;
        sum += p.relative_error * p.relative_error;
        close += p.relative_error <= 0.05;
        if (p.relative_error >= fit.worst_error) {
            fit.worst_error = p.relative_error;
            fit.worst_at_hz = p.frequency_hz;
        }
    }
    fit.rms_error = std::sqrt(sum / fit.points_used);
    fit.share_within_5_percent = static_cast<double>(close) / fit.points_used;
}

void find_overstated(BeadFit& fit) {
    double worst = 0;
    for (const BeadFitPoint& p : fit.points) {
        if (!p.used() || !overstates(p.fitted_ohm, p.measured_ohm)) continue;
        if (!fit.overstated) fit.overstated = {p.frequency_hz, p.frequency_hz, 0, 0, 0};
        fit.overstated->to_hz = p.frequency_hz;
        // Zero measured is the worst of all.
        const double ratio = p.fitted_ohm.real() / std::max(p.measured_ohm.real(), 1e-300);
        if (ratio <= worst) continue;
        worst = ratio;
        fit.overstated->worst_at_hz = p.frequency_hz;
        fit.overstated->measured_ohm = p.measured_ohm.real();
        fit.overstated->fitted_ohm = p.fitted_ohm.real();
    }
    if (!fit.overstated) return;
    const LossOverstated& o = *fit.overstated;
    const auto hertz = [](double f) { return engineering(f, Dimension::frequency); };
    const std::string range =
        o.from_hz < o.to_hz ? fmt::format(" from {} to {}", hertz(o.from_hz), hertz(o.to_hz)) : "";
    fit.warnings.push_back(
        {"curve",
         fmt::format("the fit overstates the loss{}, where it is more inductance than resistance: {} "
                     "where {} was measured, at {}",
                     range, engineering(o.fitted_ohm, Dimension::resistance),
                     engineering(o.measured_ohm, Dimension::resistance), hertz(o.worst_at_hz))});
}

void warn(BeadFit& fit) {
    // What the part is at the band's low end: the majority of the points up to 1.3 times its frequency, of
    // three at least.
    int capacitive = 0;
    int seen = 0;
    for (const BeadFitPoint& p : fit.points) {
        if (!p.used() || (seen >= 3 && p.frequency_hz > 1.3 * fit.band_low_hz)) continue;
        ++seen;
        capacitive += p.measured_ohm.imag() < 0;
    }
    if (2 * capacitive > seen) {
        fit.warnings.push_back(
            {"curve",
             fmt::format("the data is capacitive from {:.4g} Hz on: no inductive part below its resonance "
                         "is seen, so the sections are not determined by it",
                         fit.band_low_hz)});
    }
    if (fit.rms_error > poor_rms || fit.share_within_5_percent < poor_share) {
        fit.warnings.push_back(
            {"curve",
             fmt::format("the fit is poor: rms error {:.3g} %, {:.3g} % of the points within 5 %, worst "
                         "{:.3g} % at {:.4g} Hz; the data is not that of R and L sections shunted by one "
                         "capacitance, or is noisy",
                         100 * fit.rms_error, 100 * fit.share_within_5_percent, 100 * fit.worst_error,
                         fit.worst_at_hz)});
    }
}

/// A network that was tried, and the criterion by which one is chosen.
struct Tried {
    size_t sections = 0;
    double criterion = INFINITY;
    Candidate candidate;
};

std::vector<Tried> tried_networks(const BeadData& data, const BeadFitOptions& options,
                                  std::vector<double>& rms_by_sections) {
    const BeadData few = thinned(data);
    const std::vector<BeadElements> starts = best_starts(few, options.dc_resistance_ohm.value_or(0));
    const size_t most =
        std::clamp<size_t>((data.omega.size() - 2) / 2, 1, static_cast<size_t>(options.most_sections));
    const double residuals = 2 * static_cast<double>(data.omega.size());
    const double penalty = std::max(least_gain, std::log(residuals) / residuals);
    std::vector<Tried> out;
    Candidate before{{}, INFINITY};
    for (size_t n = 1; n <= most; ++n) {
        Candidate now = best_with(n, starts, n > 1 ? &before.elements : nullptr, few, data);
        if (!std::isfinite(now.error)) break;
        const auto consider = [&](const Candidate& candidate, double cost) {
            out.push_back(
                {n, std::log(std::hypot(candidate.error, good_enough)) + cost * penalty, candidate});
        };
        double least = now.error;
        consider(now, static_cast<double>(n));
        if (!options.dc_resistance_ohm) {
            // A parameter instead of a section's two: it has to earn half as much.
            const Candidate with_dc = with_dc_resistance(now, few, data);
            consider(with_dc, static_cast<double>(n) + 0.5);
            least = std::min(least, with_dc.error);
        }
        rms_by_sections.push_back(least);
        if (least < 0.1 * good_enough) break;
        if (n > 3 && least > (1 - no_gain) * rms_by_sections[n - 4]) break;
        before = std::move(now);
    }
    return out;
}

bool overstates(const BeadElements& elements, const BeadData& data) {
    for (size_t i = 0; i < data.omega.size(); ++i)
        if (overstates(impedance_ohm(elements, data.omega[i]), data.z[i])) return true;
    return false;
}

/// The one of the least criterion, or, where it overstates the loss, the best with a section more that does
/// not.
Candidate best_network(const BeadData& data, const BeadFitOptions& options,
                       std::vector<double>& rms_by_sections) {
    std::vector<Tried> tried = tried_networks(data, options, rms_by_sections);
    std::stable_sort(tried.begin(), tried.end(),
                     [](const Tried& a, const Tried& b) { return a.criterion < b.criterion; });
    if (tried.empty()) {
        // Nothing inductive nor resistive in the data: the sections' least squares are all zero.
        throw InputError(
            options.place, "curve",
            "the data has no inductive part; expected R and L sections shunted by one capacitance");
    }
    const Tried& best = tried.front();
    if (!overstates(best.candidate.elements, data)) return best.candidate;
    for (const Tried& other : tried)
        if (other.sections == best.sections + 1 && !overstates(other.candidate.elements, data))
            return other.candidate;
    return best.candidate;
}

}  // namespace

std::complex<double> bead_impedance_ohm(const Bead& bead, std::complex<double> s) {
    std::complex<double> sum = 0;
    for (const BeadSection& k : bead.sections) {
        if (k.resistance_ohm > 0 && k.inductance_h > 0) {
            sum += s * k.resistance_ohm * k.inductance_h / (k.resistance_ohm + s * k.inductance_h);
        }
    }
    return bead.dc_resistance_ohm + sum / (1.0 + s * bead.capacitance_f * sum);
}

BeadFit fit_bead(const std::vector<ImpedancePoint>& points, const BeadFitOptions& options) {
    check(points, options);
    BeadFit fit;
    BeadData data;
    for (const ImpedancePoint& p : points) {
        BeadFitPoint out{
            p.frequency_hz, p.impedance_ohm, {}, 0, p.passive && std::abs(p.impedance_ohm) > 0, true};
        out.in_band = p.frequency_hz >= options.band_low_hz && p.frequency_hz <= options.band_high_hz;
        fit.points.push_back(out);
        if (!out.in_band) {
            ++fit.points_outside_band;
        } else if (!out.passive) {
            ++fit.points_not_passive;
        } else {
            data.omega.push_back(2 * pi * p.frequency_hz);
            data.z.push_back(p.impedance_ohm);
        }
    }
    fit.points_used = static_cast<int>(data.omega.size());
    if (fit.points_used < 4) {
        throw InputError(
            options.place, "curve",
            fmt::format("found {} passive points from {:.4g} Hz to {:.4g} Hz; expected at least 4",
                        fit.points_used, options.band_low_hz, options.band_high_hz));
    }
    fit.band_low_hz = data.omega.front() / (2 * pi);
    fit.band_high_hz = data.omega.back() / (2 * pi);

    Candidate chosen = best_network(data, options, fit.rms_by_sections);
    refine(chosen.elements, data, BeadObjective::relative, 50);
    fit.bead = bead_of(pruned(chosen.elements, data));
    judge(fit);
    warn(fit);
    find_overstated(fit);
    if (!options.dc_resistance_ohm && fit.bead.dc_resistance_ohm > 0) {
        fit.warnings.push_back(
            {"dc_resistance", fmt::format("{:.4g} ohm is fitted to the data from {:.4g} Hz on, not measured "
                                          "at DC; give it where it is known",
                                          fit.bead.dc_resistance_ohm, fit.band_low_hz)});
    }
    return fit;
}

std::vector<Warning> short_of_band(const std::vector<ImpedancePoint>& points, double low_hz, double high_hz,
                                   const std::string& band) {
    std::vector<Warning> out;
    const auto hertz = [](double f) { return engineering(f, Dimension::frequency); };
    if (points.empty()) return out;
    const double first = points.front().frequency_hz, last = points.back().frequency_hz;
    if (first > nearly * low_hz)
        out.push_back({"curve", fmt::format("the data begins at {}, {:.3g} times the lower end of {}, {}: "
                                            "below it the bead is a guess",
                                            hertz(first), first / low_hz, band, hertz(low_hz))});
    if (high_hz > nearly * last)
        out.push_back(
            {"curve", fmt::format("the data ends at {}, and the upper end of {}, {}, is {:.3g} times "
                                  "that: above it the bead is a guess",
                                  hertz(last), band, hertz(high_hz), high_hz / last)});
    return out;
}

}  // namespace ringquell
