#include "spread/pack_judge.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "numerics/rounding.h"
#include "numerics/units.h"

namespace ringquell::internal {

namespace {

Mode mode_of(std::complex<double> lambda, ModeKind kind = ModeKind::common, double common_share = 1) {
    return {lambda * natural, kind, common_share, 1};
}

}  // namespace

/// Where two eigenvalues nearly coincide, one vector says nothing of their kinds.
bool PackJudge::Lane::kinds_unclear() const {
    constexpr double apart = 1e-7;
    return std::any_of(candidates.begin(), candidates.end(), [this](const std::complex<double>& c) {
        return std::count_if(upper.begin(), upper.end(), [&c](const std::complex<double>& other) {
                   return std::norm(other - c) <= apart * apart * std::norm(c);
               }) > 1;
    });
}

PackJudge::PackJudge(const PackedProgram& program, const NetworkValues& rules, const SampleJudge& judge)
    : program_(program), rules_(rules), judge_(judge), solver_(program.states) {
    solver_.balance = false;  // natural units balance well enough (docs/spread.md)
}

void PackJudge::judge(std::span<const PackJob> jobs) {
    run(jobs);
    solve(jobs);
    for (size_t k = 0; k < jobs.size(); ++k) take_eigenvalues(jobs[k], k);
    while (tell_kinds(jobs)) continue;
}

/// The program on all lanes, and its matrix.
void PackJudge::run(std::span<const PackJob> jobs) {
    const auto n = static_cast<size_t>(program_.states);
    double* numbers = numbers_.resize(static_cast<size_t>(program_.places) * lanes);
    double* matrix = matrix_.resize(n * n * lanes);
    for (size_t k = 0; k < lanes; ++k) {
        // Lanes that are not wanted repeat the first.
        const double* values = jobs[k < jobs.size() ? k : 0].values;
        for (size_t i = 0; i < static_cast<size_t>(program_.elements); ++i)
            numbers[i * lanes + k] = values[i];
    }
    run_packed(program_, numbers);
    std::fill(matrix, matrix + n * n * lanes, 0.0);
    for (const auto& entry : program_.matrix)
        std::copy_n(
            numbers + static_cast<size_t>(entry.place) * lanes, lanes,
            matrix + (static_cast<size_t>(entry.row) + n * static_cast<size_t>(entry.column)) * lanes);
    check_divisors();
}

void PackJudge::check_divisors() {
    for (Lane& lane : lane_) lane.good = true;
    for (size_t d = 0; d < program_.divisors.size(); ++d) {
        constexpr double shrunk = 1e-6;  // a pivot that small against where it was chosen is no longer one
        const double* divisor = numbers_.data() + static_cast<size_t>(program_.divisors[d]) * lanes;
        for (size_t k = 0; k < lanes; ++k)
            lane_[k].good = lane_[k].good && std::abs(divisor[k]) > shrunk * program_.divisor_size[d];
    }
}

void PackJudge::solve(std::span<const PackJob> jobs) {
    const auto n = static_cast<size_t>(program_.states);
    double* real = eigenvalues_.resize(2 * n * lanes);
    const auto status = solver_.solve(matrix_.data(), real, real + n * lanes);
    for (size_t k = 0; k < jobs.size(); ++k)
        lane_[k].good = lane_[k].good && status[k] == LaneStatus::converged;
}

/// Adds what needs no kind, and gathers what does.
void PackJudge::take_eigenvalues(const PackJob& job, size_t k) {
    const auto n = static_cast<size_t>(program_.states);
    const double *real = eigenvalues_.data(), *imag = real + n * lanes;
    Lane& lane = lane_[k];
    lane.candidates.clear();
    lane.upper.clear();
    lane.next = 0;
    const bool vanished = lane.good && rules_.gain_vanished(job.values);
    double least = std::numeric_limits<double>::infinity(), largest = 0;
    for (size_t i = 0; lane.good && i < n; ++i) {
        const std::complex<double> lambda(real[i * lanes + k], imag[i * lanes + k]);
        if (lambda.imag() < 0) continue;  // its conjugate stands beside it
        const double size = std::sqrt(std::norm(lambda));
        least = std::min(least, size);
        largest = std::max(largest, size);
        take_eigenvalue(lambda, job, lane, largest);
    }
    constexpr double structural = 1e-11;
    if (vanished && least < structural * largest) lane.good = false;
    if (lane.good && lane.kinds_unclear()) lane.good = false;
    if (!lane.good) {
        *job.left = 1;
        lane.candidates.clear();
        return;
    }
    std::sort(lane.candidates.begin(), lane.candidates.end(),
              [](auto a, auto b) { return a.real() * std::abs(b) > b.real() * std::abs(a); });
}

/// `largest`: the size of the largest eigenvalue up to this one.
void PackJudge::take_eigenvalue(std::complex<double> lambda, const PackJob& job, Lane& lane, double largest) {
    const double size = std::sqrt(std::norm(lambda));
    if (lambda.imag() <= real_pair * size) lambda.imag(0);
    lane.upper.push_back(lambda);
    // Damped better than what was found already: of no interest, whatever it is.
    if (!judge_.alone() && -lambda.real() > judge_.of_interest(*job.outcome) * size) return;
    const Mode mode = mode_of(lambda);
    // A real eigenvalue so small that rounding decides its sign is the simple path's.
    constexpr double rounding = 1e-12;
    if (grows(mode) && !mode.oscillates() && size < rounding * largest) lane.good = false;
    if (!grows(mode) && !(mode.oscillates() && in_band(mode, judge_.require()))) return;
    if (judge_.alone())
        judge_.add(mode, job.point, *job.outcome);
    else
        lane.candidates.push_back(lambda);
}

/// Does the kind of the lane's next candidate matter, after what its sample has shown?
bool PackJudge::wants_kind(const PackJob& job, const Lane& lane) const {
    if (lane.next >= lane.candidates.size() || *job.left != 0) return false;
    const Mode mode = mode_of(lane.candidates[lane.next]);
    if (mode.damping_ratio() <= judge_.of_interest(*job.outcome)) return true;
    job.outcome->grows = job.outcome->grows || grows(mode);  // whatever its kind
    return false;
}

/// Kinds, a candidate of every lane at a time; false once none matters.
bool PackJudge::tell_kinds(std::span<const PackJob> jobs) {
    std::array<bool, lanes> wanted{};
    std::complex<double> spare;
    for (size_t k = 0; k < jobs.size(); ++k)
        if ((wanted[k] = wants_kind(jobs[k], lane_[k]))) spare = lane_[k].candidates[lane_[k].next];
    if (std::none_of(wanted.begin(), wanted.end(), [](bool w) { return w; })) return false;
    double *real = kinds_.resize(4 * lanes), *imag = real + lanes, *share = imag + lanes,
           *residual = share + lanes;
    for (size_t k = 0; k < lanes; ++k) {
        const std::complex<double> lambda = wanted[k] ? lane_[k].candidates[lane_[k].next] : spare;
        real[k] = lambda.real();
        imag[k] = lambda.imag();
    }
    shares_.compute(program_, {numbers_.data(), matrix_.data(), real, imag}, share, residual);
    for (size_t k = 0; k < jobs.size(); ++k)
        if (wanted[k]) take_kind(jobs[k], lane_[k], share[k], residual[k]);
    return true;
}

void PackJudge::take_kind(const PackJob& job, Lane& lane, double share, double residual) {
    constexpr double clear = 1e-6, small = 1e-9;
    if (!(residual <= small) || !(std::abs(share - 0.5) > clear)) {
        *job.left = 1;
        return;
    }
    const ModeKind kind = share < 0.5 ? ModeKind::differential : ModeKind::common;
    judge_.add(mode_of(lane.candidates[lane.next++], kind, share), job.point, *job.outcome);
}

}  // namespace ringquell::internal
