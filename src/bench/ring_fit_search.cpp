#include "bench/ring_fit_search.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "numerics/matrix_pencil.h"

namespace ringquell::internal {

namespace {

/// A ring has a point at least sixteen times a period: the mean of a block takes 1 % of its amplitude.
constexpr double points_a_period = 16;
constexpr Eigen::Index pencil_points = 256;
/// A pencil sees what swings at least so often in its segment; the rest is left to the next, four times as long.
constexpr double least_periods = 1.5;
constexpr Eigen::Index coarser = 4;
constexpr size_t most_decays = 2;
/// Points that a step of the search spends its time on; the last fit takes more.
constexpr Eigen::Index search_points = 8192;

Eigen::VectorXd block_means(const Samples& samples, Eigen::Index block) {
    if (block == 1) return samples;
    const Eigen::Index points = samples.size() / block;
    return Eigen::Map<const Eigen::MatrixXd>(samples.data(), block, points).colwise().mean().transpose();
}

Eigen::Index block_for(const std::vector<DampedTerm>& terms, Eigen::Index samples) {
    double rate = 0;
    for (const DampedTerm& term : terms) rate = std::max(rate, std::abs(term.exponent()));
    const double by_rate = rate > 0 ? 2 * std::numbers::pi / (points_a_period * rate) : 1e9;
    const auto least_points = static_cast<double>(std::min<Eigen::Index>(samples, 200));
    const double by_points = static_cast<double>(samples) / least_points;
    return std::max<Eigen::Index>(1, static_cast<Eigen::Index>(std::min(by_rate, by_points)));
}

std::vector<DampedTerm> without(std::vector<DampedTerm> terms, size_t k) {
    terms.erase(terms.begin() + static_cast<std::ptrdiff_t>(k));
    return terms;
}

/// The terms, weakest first.
std::vector<size_t> by_weight(const JointFit& fit) {
    std::vector<std::pair<double, size_t>> weights;
    for (size_t k = 0; k < fit.terms.size(); ++k) weights.emplace_back(fit.weight(k), k);
    std::sort(weights.begin(), weights.end());
    std::vector<size_t> out;
    for (const auto& [weight, k] : weights) out.push_back(k);
    return out;
}

/// What rounding leaves of the squares of a record, which is no information.
double rounding_squares(const JointFit& fit) {
    constexpr double rounding = 1e-10;
    double swing = std::abs(fit.constant);
    for (const auto& a : fit.amplitudes) swing = std::max(swing, std::abs(a));
    return static_cast<double>(fit.points()) * std::pow(rounding * swing, 2);
}

double needed(const JointFit& fit, size_t term, Price price) {
    const double parameters = fit.terms[term].swings ? 4 : 2;
    return price == Price::known ? parameters : parameters * std::log(static_cast<double>(fit.points())) + 10;
}

/// By its amplitude's errors alone, which suppose that the others' parameters move but a little.
bool surely_pays(const JointFit& fit, size_t term, Price price) {
    constexpr double surely = 20;
    const auto points = static_cast<double>(fit.points());
    const double variance = fit.fit.noise_variance() + rounding_squares(fit) / points;
    return variance > 0 && fit.weight(term) > surely * variance * needed(fit, term, price);
}

bool pays(const JointFit& with, const JointFit& less, size_t term, Price price) {
    const double rounding = rounding_squares(with);
    const double ratio = (less.fit.squares + rounding) / (with.fit.squares + rounding);
    const auto free = static_cast<double>(with.points() - with.fit.covariance.rows());
    return free * std::log(ratio) > needed(with, term, price);
}

/// At the most so many of either kind: the weakest go.
JointFit limited(const Samples& samples, JointFit fit, size_t most_rings) {
    for (const bool swings : {true, false})
        for (;;) {
            std::vector<size_t> kind;
            for (size_t k = 0; k < fit.terms.size(); ++k)
                if (fit.terms[k].swings == swings) kind.push_back(k);
            if (kind.size() <= (swings ? most_rings : most_decays)) break;
            const size_t least = *std::min_element(
                kind.begin(), kind.end(), [&](size_t a, size_t b) { return fit.weight(a) < fit.weight(b); });
            auto less = fit_terms(samples, without(fit.terms, least));
            if (!less) break;
            fit = std::move(*less);
        }
    return fit;
}

/// The ring that is a shadow of a stronger one, if there is such.
std::optional<std::pair<size_t, double>> shadow_of(const JointFit& fit) {
    constexpr double small = 0.1;
    for (size_t weak = 0; weak < fit.terms.size(); ++weak)
        for (size_t strong = 0; strong < fit.terms.size(); ++strong) {
            const DampedTerm &w = fit.terms[weak], &s = fit.terms[strong];
            if (weak == strong || !w.swings || !s.swings) continue;
            const double share = fit.energy(weak) / fit.energy(strong);
            const double width = std::abs(w.decay) + std::abs(s.decay);
            if (share < small && std::abs(w.frequency - s.frequency) < width) return std::pair{weak, share};
        }
    return std::nullopt;
}

JointFit without_shadows(const Samples& samples, JointFit fit, FoundTerms& found) {
    while (const auto shadow = shadow_of(fit)) {
        auto less = fit_terms(samples, without(fit.terms, shadow->first));
        if (!less) break;
        if (!found.shadow || found.shadow->second < shadow->second)
            found.shadow = {fit.terms[shadow->first].frequency, shadow->second};
        fit = std::move(*less);
    }
    return fit;
}

/// Part of the record, its points, and whether it is nearly all of it.
struct Segment {
    Eigen::Index first = 0, samples = 0, block = 1;
    bool whole = false;
};

/// The leading points, or those that swing far more (a ring that grows, one that begins later).
Segment segment_at(const Samples& samples, Eigen::Index block) {
    const Eigen::Index all = samples.size() / block, points = std::min(all, pencil_points);
    Segment out{0, points * block, block, points == all};
    if (out.whole) return out;
    const Eigen::VectorXd means = block_means(samples, block);
    const auto swing = [&](Eigen::Index from) {
        return (means.segment(from + 1, points - 1) - means.segment(from, points - 1)).squaredNorm();
    };
    constexpr double far_more = 2;
    double most = far_more * swing(0);
    for (Eigen::Index from = points / 2; from + points <= all; from += points / 2)
        if (const double here = swing(from); here > most) {
            most = here;
            out.first = from * block;
        }
    return out;
}

/// Terms whose poles the pencil sees in points, with exponents a sample.
std::vector<DampedTerm> pencil_terms(const Eigen::VectorXd& points, Eigen::Index block, size_t most) {
    Eigen::VectorXd swing = points.array() - points.mean();
    const double size = swing.cwiseAbs().maxCoeff();
    if (!std::isfinite(size) || size == 0) return {};
    swing /= size;
    const MatrixPencil pencil(swing, points.size() / 3);
    const auto limit = static_cast<Eigen::Index>(2 * most);
    std::vector<DampedTerm> out;
    for (const std::complex<double>& z : pencil.poles(std::min(pencil.order(), limit))) {
        constexpr double gone = 0.05;  // within a point: no more than a spike
        if (z.imag() < 0 || std::abs(z) < gone || std::abs(z) > 1 / gone) continue;
        const std::complex<double> s = std::log(z) / static_cast<double>(block);
        const bool swings = z.imag() > 0;
        // What changes its sign from point to point swings at half the rate; the fit finds how nearly.
        constexpr double nearly = 0.98;
        if (!swings && z.real() < 0)
            out.push_back({-s.real(), nearly * s.imag(), true});
        else
            out.push_back({-s.real(), swings ? s.imag() : 0, swings});
    }
    return out;
}

/// A ring that came out with a negative frequency is the one of the positive, its amplitude conjugate.
void turn_forward(SeparableFit& fit, const TermPlace& place) {
    if (fit.alpha(place.alpha + 1) >= 0) return;
    fit.alpha(place.alpha + 1) *= -1;
    fit.c(place.c + 1) *= -1;
    for (const Eigen::Index k : {place.alpha + 1, fit.alpha.size() + place.c + 1}) {
        fit.covariance.row(k) *= -1;
        fit.covariance.col(k) *= -1;
    }
}

/// A step may end beyond half the sampling rate, where all looks alike: frequencies back within it. False where all are.
bool fold(const std::vector<DampedTerm>& terms, Eigen::VectorXd& alpha) {
    bool folded = false;
    const std::vector<TermPlace> places = places_of(terms);
    for (size_t k = 0; k < terms.size(); ++k) {
        if (!terms[k].swings) continue;
        double& frequency = alpha(places[k].alpha + 1);
        const double within = std::remainder(frequency, 2 * std::numbers::pi);
        folded = folded || within != frequency;
        frequency = within;
    }
    return folded;
}

class Search {
  public:
    Search(const Samples& samples, int most_rings)
        : samples_(samples), most_rings_(static_cast<size_t>(most_rings)) {}

    FoundTerms run() {
        constexpr int most_passes = 3;
        for (int pass = 0; pass < most_passes; ++pass) {
            const size_t before = terms_.size();
            for (Eigen::Index block = 1;; block *= coarser)
                if (level(segment_at(samples_, block))) break;
            if (terms_.size() == before && pass > 0) break;
        }
        auto fit = fit_terms(samples_, terms_);
        while (!fit && !terms_.empty()) {
            terms_.pop_back();
            fit = fit_terms(samples_, terms_);
        }
        out_.fit = limited(samples_, paying_terms(samples_, std::move(*fit)), most_rings_);
        out_.fit = without_shadows(samples_, std::move(out_.fit), out_);
        for (const DampedTerm& term : out_.fit.terms)
            out_.near_nyquist = out_.near_nyquist || term.frequency > 0.9 * std::numbers::pi;
        return std::move(out_);
    }

  private:
    /// Adds what a segment shows beside the terms that are known; true where the segment was the whole record.
    bool level(const Segment& segment) {
        const Eigen::VectorXd part = samples_.segment(segment.first, segment.samples);
        FitEffort known_effort;
        known_effort.most_points = search_points;
        known_effort.iterations = 10;
        auto known = fit_terms(part, terms_, known_effort);
        if (!known) known = fit_terms(part, {});
        if (!known) return true;
        Eigen::VectorXd points = block_means(part, segment.block);
        const double middle = static_cast<double>(segment.block - 1) / 2;
        for (Eigen::Index j = 0; j < points.size(); ++j)
            points(j) -= known->value(static_cast<double>(j * segment.block) + middle, segment.block);
        const std::vector<DampedTerm> seen = pencil_terms(points, segment.block, most_rings_ + most_decays);
        if (seen.empty()) return segment.whole;
        if (part.size() / block_for(joined(known->terms, seen), part.size()) <= search_points)
            add(part, known->terms, seen, segment);
        else  // too many points for both: what is seen on what the known leave over
            add_beside(points, seen, segment);
        return segment.whole;
    }

    static std::vector<DampedTerm> joined(std::vector<DampedTerm> some,
                                          const std::vector<DampedTerm>& others) {
        some.insert(some.end(), others.begin(), others.end());
        return some;
    }

    /// The terms that pay, of those known and those seen.
    std::optional<JointFit> settled(const Samples& part, const std::vector<DampedTerm>& known,
                                    std::vector<DampedTerm> seen) {
        FitEffort rough;
        rough.iterations = 15;
        auto joint = fit_terms(part, joined(known, seen), rough);
        while (!joint && !seen.empty()) {
            seen.pop_back();
            joint = fit_terms(part, joined(known, seen), rough);
        }
        if (!joint) return std::nullopt;
        // What turns by less than half a period is no swing: a decay tells it, with amplitudes that mean something.
        std::vector<DampedTerm> straight = joint->terms;
        bool any = false;
        for (DampedTerm& term : straight)
            if (term.swings && term.frequency * static_cast<double>(part.size()) < std::numbers::pi) {
                term = {term.decay, 0, false};
                any = true;
            }
        if (any)
            if (auto other = fit_terms(part, straight, rough)) joint = std::move(other);
        *joint = limited(part, paying_terms(part, std::move(*joint)), most_rings_);
        return without_shadows(part, std::move(*joint), out_);
    }

    void add(const Samples& part, const std::vector<DampedTerm>& known, const std::vector<DampedTerm>& seen,
             const Segment& segment) {
        if (const auto joint = settled(part, known, seen)) keep(joint->terms, segment);
    }

    void add_beside(const Eigen::VectorXd& points, std::vector<DampedTerm> seen, const Segment& segment) {
        const auto block = static_cast<double>(segment.block);
        for (DampedTerm& term : seen) term = {term.decay * block, term.frequency * block, term.swings};
        const auto alone = settled(points, {}, seen);
        if (!alone) return;
        std::vector<DampedTerm> all = terms_;
        for (const DampedTerm& term : alone->terms)
            all.push_back({term.decay / block, term.frequency / block, term.swings});
        keep(all, segment);
    }

    /// Of a part what rings in it, of the whole record all. What is known and does not show in this part stays as
    /// it is known, and so does all that is known where the part is not the beginning.
    void keep(const std::vector<DampedTerm>& joint, const Segment& segment) {
        const auto length = static_cast<double>(segment.samples);
        const auto one_of = [&](const DampedTerm& term, const std::vector<DampedTerm>& others) {
            return std::any_of(others.begin(), others.end(), [&](const DampedTerm& other) {
                return other.swings == term.swings &&
                       std::abs(other.frequency - term.frequency) <=
                           std::abs(other.decay) + std::abs(term.decay) + 2 * std::numbers::pi / length;
            });
        };
        std::vector<DampedTerm> seen;
        for (const DampedTerm& term : joint)
            if (segment.whole ||
                (term.swings && term.frequency * length > least_periods * 2 * std::numbers::pi))
                seen.push_back(term);
        if (segment.whole) {
            terms_ = std::move(seen);
            return;
        }
        const bool leading = segment.first == 0;
        std::vector<DampedTerm> kept = leading ? seen : terms_;
        for (const DampedTerm& term : leading ? terms_ : seen)
            if (!one_of(term, kept)) kept.push_back(term);
        terms_ = std::move(kept);
    }

    const Samples& samples_;
    size_t most_rings_;
    std::vector<DampedTerm> terms_;
    FoundTerms out_;
};

}  // namespace

FoundTerms find_terms(const Samples& samples, int most_rings) {
    return Search(samples, most_rings).run();
}

double JointFit::noise() const {
    return std::sqrt(fit.noise_variance());
}

double JointFit::energy(size_t term) const {
    const auto length = static_cast<double>(points() * block);
    const double d = 2 * terms[term].decay * length;
    const double mean = std::abs(d) < 1e-9 ? 1 : -std::expm1(-d) / d;
    return std::norm(amplitudes[term]) * mean * length / (terms[term].swings ? 2 : 1);
}

double JointFit::value(double t, Eigen::Index over) const {
    double out = constant;
    for (size_t k = 0; k < terms.size(); ++k) {
        const std::complex<double> s = terms[k].exponent();
        out += (amplitudes[k] * block_mean(s, over) * std::exp(s * t)).real();
    }
    return out;
}

double JointFit::weight(size_t term) const {
    const TermPlace place = places_of(terms)[term];
    const Eigen::Index q = fit.alpha.size(), at = q + place.c;
    if (!terms[term].swings) return fit.c(place.c) * fit.c(place.c) / fit.covariance(at, at);
    const Eigen::Matrix2d c = fit.covariance.block<2, 2>(at, at);
    const Eigen::Vector2d a = fit.c.segment<2>(place.c);
    return (c(1, 1) * a(0) * a(0) - 2 * c(0, 1) * a(0) * a(1) + c(0, 0) * a(1) * a(1)) /
           (c(0, 0) * c(1, 1) - c(0, 1) * c(0, 1));
}

std::optional<JointFit> fit_terms(const Samples& samples, const std::vector<DampedTerm>& start,
                                  const FitEffort& effort) {
    JointFit out;
    out.block = effort.block > 0 ? effort.block : block_for(start, samples.size());
    const auto block = static_cast<double>(out.block);
    const Eigen::VectorXd points =
        block_means(samples.head(std::min(samples.size(), effort.most_points * out.block)), out.block);
    std::vector<DampedTerm> scaled = start;
    for (DampedTerm& term : scaled) {
        term.decay *= block;
        term.frequency *= block;
    }
    const Eigen::VectorXd alpha = parameters_of(scaled);
    if (points.size() <= 2 * alpha.size() + 2) return std::nullopt;
    const double middle = (block - 1) / (2 * block);
    auto fit = fit_separable(damped_model(scaled, middle, points.size()), points, alpha, effort.iterations);
    if (fit && fold(scaled, fit->alpha))
        fit = fit_separable(damped_model(scaled, middle, points.size()), points, Eigen::VectorXd(fit->alpha),
                            effort.iterations);
    if (!fit) return std::nullopt;
    const std::vector<TermPlace> places = places_of(scaled);
    for (size_t k = 0; k < scaled.size(); ++k)
        if (scaled[k].swings) turn_forward(*fit, places[k]);
    out.terms = with_parameters(scaled, fit->alpha);
    for (size_t k = 0; k < out.terms.size(); ++k) {
        DampedTerm& term = out.terms[k];
        term.decay /= block;
        term.frequency /= block;
        const Eigen::Index c = places[k].c;
        const std::complex<double> found(fit->c(c), term.swings ? fit->c(c + 1) : 0);
        out.amplitudes.push_back(found / block_mean(term.exponent(), out.block));
    }
    out.constant = fit->c(fit->c.size() - 1);
    out.fit = std::move(*fit);
    return out;
}

JointFit paying_terms(const Samples& samples, JointFit fit, Price price) {
    // The weakest by its amplitude's errors need not be the one that is missed least: a slow decay's amplitude and the
    // constant hold each other's.
    const auto drop_one = [&] {
        for (const size_t k : by_weight(fit)) {
            if (surely_pays(fit, k, price)) continue;
            // The same points for both, or their sums are not comparable.
            constexpr int few = 12;  // the rest is near its place
            auto less = fit_terms(samples, without(fit.terms, k), {fit.block, fit.points(), few});
            if (less && !pays(fit, *less, k, price)) {
                fit = std::move(*less);
                return true;
            }
        }
        return false;
    };
    while (drop_one()) continue;
    return fit;
}

}  // namespace ringquell::internal
