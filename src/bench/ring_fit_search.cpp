#include "bench/ring_fit_search.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "numerics/matrix_pencil.h"

namespace ringquell::internal {

namespace {

constexpr Eigen::Index pencil_points = 256;
/// A pencil sees what swings at least so often in its segment; the rest is left to the next, four times as long.
constexpr double least_periods = 1.5;
constexpr Eigen::Index coarser = 4;
constexpr size_t most_decays = 2;
/// Points that a step of the search spends its time on; the last fit takes more.
constexpr Eigen::Index search_points = 8192;

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
        // Not many more than there may be in the end, since each costs time.
        const size_t most = std::max(most_rings_ + most_decays, terms_.size() + 2) - terms_.size();
        const std::vector<DampedTerm> seen = pencil_terms(points, segment.block, most);
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

}  // namespace ringquell::internal
