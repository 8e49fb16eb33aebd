// Terms that are fitted together, and which of them pay.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "bench/ring_fit_search.h"

namespace ringquell::internal {

namespace {

/// A ring has a point at least sixteen times a period: the mean of a block takes 1 % of its amplitude.
constexpr double points_a_period = 16;

/// The terms, weakest first.
std::vector<size_t> by_weight(const JointFit& fit) {
    std::vector<std::pair<double, size_t>> weights;
    weights.reserve(fit.terms.size());
    for (size_t k = 0; k < fit.terms.size(); ++k) weights.emplace_back(fit.weight(k), k);
    std::sort(weights.begin(), weights.end());
    std::vector<size_t> out;
    out.reserve(weights.size());
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
    const double white =
        price == Price::known ? parameters : parameters * std::log(static_cast<double>(fit.points())) + 10;
    return white * fit.colour(fit.terms[term].swings ? std::optional(term) : std::nullopt);
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

}  // namespace

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

double JointFit::whiteness() const {
    const Eigen::VectorXd& r = fit.residual;
    const double square = r.squaredNorm();
    return square > 0 ? r.head(r.size() - 1).dot(r.tail(r.size() - 1)) / square : 0;
}

double JointFit::whiteness_allowed() const {
    return 3 / std::sqrt(static_cast<double>(points()));
}

double JointFit::colour(std::optional<size_t> term) const {
    if (std::abs(whiteness()) <= whiteness_allowed()) return 1;
    constexpr int lines = 12;
    const Eigen::VectorXd& r = fit.residual;
    const double line = 2 * std::numbers::pi / static_cast<double>(r.size());
    const double middle = term ? terms[*term].frequency * static_cast<double>(block) : 0;
    double sum = 0;
    int count = 0;
    for (int k = -lines; k <= lines; ++k) {
        const double frequency = middle + k * line;
        if (frequency < 0 || frequency > std::numbers::pi) continue;
        const std::complex<double> step = std::polar(1.0, -frequency);
        std::complex<double> turn = 1, at = 0;
        for (const double value : r) {
            at += value * turn;
            turn *= step;
        }
        sum += std::norm(at) / r.squaredNorm();
        ++count;
    }
    return std::max(1.0, sum / count);
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
            constexpr int few = 6;  // the rest is near its place
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
